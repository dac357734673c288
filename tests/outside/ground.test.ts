import { createRequire } from "node:module";
import type openCvTypes from "@techstark/opencv-js";
import fc from "fast-check";
import { beforeAll, describe, expect, test } from "vitest";
import { project } from "../../src/ground/camera.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { applyHomography, fitHomography, invert3 } from "../../src/ground/homography.ts";
import { groundStandardError, groundToImage, imageToGround } from "../../src/ground/map.ts";
import type { ImagePoint, PoleMarks } from "../../src/ground/types.ts";
import { phone } from "../unit/ground-scene.ts";

const require = createRequire(import.meta.url);

/** The npm package perspective-transform, which carries no types. */
const perspectiveTransform = require("perspective-transform") as (
  from: readonly number[],
  to: readonly number[],
) => { transform(x: number, y: number): [number, number] };

const points = (pairs: readonly (readonly [number, number])[]): ImagePoint[] =>
  pairs.map(([x, y]) => ({ x, y }));
const near = (got: readonly number[], want: readonly number[], digits: number) =>
  want.forEach((value, k) => {
    expect(got[k]! / value, `entry ${k}`).toBeCloseTo(1, digits);
  });

interface Known {
  name: string;
  from: ImagePoint[];
  to: ImagePoint[];
  matrix: number[] | null;
  at: ImagePoint;
  lands: ImagePoint;
}

const KNOWN: Known[] = [
  {
    // Readme of the npm package perspective-transform 1.1.3, which prints 117.27521125839255, 530.9202410878403
    // from a rounded matrix; the exact solution is the one below.
    name: "readme of perspective-transform",
    from: points([
      [158, 64],
      [494, 69],
      [495, 404],
      [158, 404],
    ]),
    to: points([
      [100, 500],
      [152, 564],
      [148, 604],
      [100, 560],
    ]),
    matrix: null,
    at: { x: 250, y: 120 },
    lands: { x: 117.275210033, y: 530.920235578 },
  },
  {
    // Points of OpenCV's tutorial "Geometric Transformations of Images" (from memory); matrix from OpenCV 4.3.
    name: "OpenCV tutorial, four corners of a sudoku",
    from: points([
      [56, 65],
      [368, 52],
      [28, 387],
      [389, 390],
    ]),
    to: points([
      [0, 0],
      [300, 0],
      [0, 300],
      [300, 300],
    ]),
    matrix: [
      1.0558737612964193, 0.09181510967794951, -65.0969127616662, 0.04690100493754365, 1.1256241185010436,
      -75.79202397907028, 0.00018325144816951967, 0.0005133370013304123, 1,
    ],
    at: { x: 200, y: 200 },
    lands: { x: 144.332755377, y: 139.305307129 },
  },
  {
    // Points of github.com/opencv/opencv/issues/15014; matrix from OpenCV 4.3 getPerspectiveTransform.
    name: "OpenCV issue 15014",
    from: points([
      [141, 131],
      [480, 159],
      [493, 630],
      [64, 601],
    ]),
    to: points([
      [318, 256],
      [534, 372],
      [316, 670],
      [73, 473],
    ]),
    matrix: [
      0.43404393547433545, -0.41962218404283824, 291.7094940133622, 0.14649165430981848, 0.44141827809541484,
      161.36929362704174, -0.00036246333581111014, -0.00009142748435522057, 1,
    ],
    at: { x: 300, y: 300 },
    lands: { x: 342.700618944, y: 390.981091889 },
  },
  {
    // Points of a test of the npm package simple-homography; matrix by Heckbert's unit-square formula (MSc thesis,
    // Berkeley 1989, section 2.2.3).
    name: "unit square by Heckbert's formula",
    from: points([
      [0, 0],
      [1, 0],
      [1, 1],
      [0, 1],
    ]),
    to: points([
      [1, 1],
      [4, 0.2],
      [2, 2],
      [1, 2],
    ]),
    matrix: [11 / 9, 10 / 9, 1, -8 / 9, 29 / 9, 1, -4 / 9, 10 / 9, 1],
    at: { x: 0.5, y: 0.5 },
    lands: { x: 1.625, y: 1.625 },
  },
];

/** Eight pairs of a test of scikit-image's transforms. */
const EIGHT = {
  from: points([
    [-12.3705, -10.5075],
    [-10.7865, 15.4305],
    [8.6985, 10.8675],
    [11.4975, -9.5715],
    [7.8435, 7.4835],
    [-5.3325, 6.5025],
    [6.7905, -6.3765],
    [-6.1695, -0.8235],
  ]),
  to: points([
    [0, 0],
    [0, 5800],
    [4900, 5800],
    [4900, 0],
    [4479, 4580],
    [1176, 3660],
    [3754, 790],
    [1024, 1931],
  ]),
};

const rms = (h: readonly number[], from: readonly ImagePoint[], to: readonly ImagePoint[]) =>
  Math.sqrt(
    from.reduce((sum, p, i) => {
      const q = applyHomography(h as never, p);
      return sum + (q.x - to[i]!.x) ** 2 + (q.y - to[i]!.y) ** 2;
    }, 0) / from.length,
  );

describe("homographies against published numbers", () => {
  for (const known of KNOWN)
    test(known.name, () => {
      const h = fitHomography(known.from, known.to)!;
      if (known.matrix) near(h, known.matrix, 8);
      const landed = applyHomography(h, known.at);
      expect(landed.x).toBeCloseTo(known.lands.x, 8);
      expect(landed.y).toBeCloseTo(known.lands.y, 8);
      const back = applyHomography(invert3(h), landed);
      expect(back.x).toBeCloseTo(known.at.x, 8);
      expect(back.y).toBeCloseTo(known.at.y, 8);
    });

  test("the package perspective-transform gives the same points, run here", () => {
    for (const known of KNOWN) {
      const theirs = perspectiveTransform(
        known.from.flatMap((p) => [p.x, p.y]),
        known.to.flatMap((p) => [p.x, p.y]),
      );
      const ours = applyHomography(fitHomography(known.from, known.to)!, known.at);
      const [x, y] = theirs.transform(known.at.x, known.at.y);
      // It rounds its matrix to ten digits.
      expect(ours.x).toBeCloseTo(x, 4);
      expect(ours.y).toBeCloseTo(y, 4);
    }
  });

  test("eight pairs, four unknown too many: OpenCV findHomography's least squares", () => {
    const h = fitHomography(EIGHT.from, EIGHT.to)!;
    // OpenCV 4.3 findHomography(method 0); its refinement stops at about six digits.
    near(
      h,
      [194.0796, -12.16805, 2285.062, -8.371179, 220.59428, 2216.9526, -0.012631224, -0.009738248, 1],
      4,
    );
    expect(rms(h, EIGHT.from, EIGHT.to)).toBeCloseTo(16.305, 3);
  });

  test("the first four of them exactly", () => {
    const h = fitHomography(EIGHT.from.slice(0, 4), EIGHT.to.slice(0, 4))!;
    // Solved with OpenCV 4.3 getPerspectiveTransform.
    near(
      h,
      [
        194.6690129, -11.88818399, 2283.23793, -8.691007754, 221.6206977, 2221.16737, -0.01269596673,
        -0.009605362429, 1,
      ],
      6,
    );
    const p = applyHomography(h, { x: 7.8435, y: 7.4835 });
    expect(p.x).toBeCloseTo(4491.238, 3);
    expect(p.y).toBeCloseTo(4600.272, 3);
  });
});

describe("homographies against OpenCV, run here", () => {
  let cv: typeof openCvTypes;
  // Asked for by `require`: the module is a promise of itself, and an import of it would never settle.
  beforeAll(
    () =>
      new Promise<void>((resolve) => {
        cv = require("@techstark/opencv-js") as typeof openCvTypes;
        cv.onRuntimeInitialized = () => resolve();
      }),
  );

  const openCv = (from: readonly ImagePoint[], to: readonly ImagePoint[]) => {
    const flat = (of: readonly ImagePoint[]) =>
      cv.matFromArray(
        of.length,
        1,
        cv.CV_64FC2,
        of.flatMap((p) => [p.x, p.y]),
      );
    const [a, b] = [flat(from), flat(to)];
    const h = cv.findHomography(a, b, 0);
    const entries = Array.from(h.data64F);
    for (const m of [a, b, h]) m.delete();
    return entries;
  };

  test("four exact pairs", () => {
    for (const known of KNOWN) near(fitHomography(known.from, known.to)!, openCv(known.from, known.to), 5);
  });

  test("noisy pairs seen by random cameras: our misfit is never above theirs", () => {
    fc.assert(
      fc.property(
        fc.double({ min: -30, max: 30, noNaN: true }),
        fc.double({ min: 0.3, max: 1.6, noNaN: true }),
        fc.array(fc.tuple(unit, unit, unit, unit), { minLength: 8, maxLength: 30 }),
        (yawDeg, heightM, seeds) => {
          const camera = phone({ yawDeg, heightM, distanceM: 4, rowMiddleM: 1.25, depthM: 0.5, ...HD });
          // Spread over two metres by one, so that eight of them fix a homography.
          const from = seeds.map(([x, y], k) => ({
            x: 2.5 * ((k + x) / seeds.length),
            y: (k % 2) * 0.6 + 0.4 * y,
          }));
          const to = from.map((p, k) => {
            const q = project(camera, p.x, p.y, 0)!;
            return { x: q.x + 2 * (seeds[k]![2] - 0.5), y: q.y + 2 * (seeds[k]![3] - 0.5) };
          });
          const ours = rms(fitHomography(from, to)!, from, to);
          expect(ours).toBeLessThan(rms(openCv(from, to), from, to) * (1 + 1e-6));
        },
      ),
      { numRuns: 100 },
    );
  });
});

const unit = fc.double({ min: 0, max: 1, noNaN: true });
const HD = { widthPx: 1920, heightPx: 1080 };

describe("a pinhole scene worked out by hand", () => {
  // f 1000 px, centre (960, 540), camera 0.8 m above the ground at x = 1.25 m; poles every 0.5 m, 3 to 4 m away.
  // Coordinates by similar triangles, u = 960 + 1000·X/Z, v = 540 + 1000·0.8/Z, and after a turn of 10° and a tilt
  // of 8° by the rotation matrices of any textbook (Hartley and Zisserman 2004, chapter 6).
  const straight = {
    near: [543.3333, 710, 876.6667, 1043.3333, 1210, 1376.6667].map((x) => ({ x, y: 806.6667 })),
    far: [647.5, 772.5, 897.5, 1022.5, 1147.5, 1272.5].map((x) => ({ x, y: 740 })),
    paw: { x: 954.1176, y: 775.2941 },
  };
  const turned = {
    near: points([
      [339.1935, 685.7258],
      [526.8732, 677.262],
      [703.7738, 669.2844],
      [870.7978, 661.7521],
      [1028.7501, 654.629],
      [1178.3501, 647.8825],
    ]),
    far: points([
      [452.9003, 612.2064],
      [590.9295, 607.496],
      [722.9789, 602.9896],
      [849.4288, 598.6744],
      [970.6281, 594.5383],
      [1086.8971, 590.5705],
    ]),
    paw: { x: 781.7989, y: 635.4236 },
  };
  const marks = (scene: typeof straight): PoleMarks => ({
    timeS: 0,
    poles: scene.near.map((p, k) => ({ near: p, far: scene.far[k]! })),
    gapsM: [0.5, 0.5, 0.5, 0.5, 0.5],
    poleLengthM: 1,
  });

  for (const [name, scene] of [
    ["square on", straight],
    ["turned 10° and tilted 8°", turned],
  ] as const) {
    test(`${name}: the paw at 1.23 m, 0.4 m behind the near ends is found`, () => {
      const { map, problems } = fitGround(marks(scene), HD);
      expect(problems).toEqual([]);
      const paw = imageToGround(map!, scene.paw);
      // The fit weighs in that a phone has a focal length of about 0.85 of the width; this camera has 0.52.
      expect(paw.xM).toBeCloseTo(1.23, 3);
      expect(paw.yM).toBeCloseTo(0.4, 2);
      expect(map!.camera!.heightM).toBeCloseTo(0.8, 2);
    });

    test(`${name}: four outer ends alone give the paw and the fourth pole to a tenth of a millimetre`, () => {
      const [n, f] = [scene.near, scene.far];
      const h = fitHomography(
        [n[0]!, n[5]!, f[0]!, f[5]!],
        points([
          [0, 0],
          [2.5, 0],
          [0, 1],
          [2.5, 1],
        ]),
      )!;
      const paw = applyHomography(h, scene.paw);
      expect(paw.x).toBeCloseTo(1.23, 4);
      expect(paw.y).toBeCloseTo(0.4, 4);
      const fourth = applyHomography(h, n[3]!);
      expect(fourth.x).toBeCloseTo(1.5, 4);
      expect(fourth.y).toBeCloseTo(0, 4);
    });

    test(`${name}: even poles have the cross-ratio 4/3`, () => {
      // A theorem of projective geometry: ((c − a)(d − b)) / ((c − b)(d − a)) = 4/3 for four even points in any view.
      for (let k = 0; k + 3 < 6; k++) {
        const [a, b, c, d] = scene.near.slice(k, k + 4) as [ImagePoint, ImagePoint, ImagePoint, ImagePoint];
        const ratio = ((c.x - a.x) * (d.x - b.x)) / ((c.x - b.x) * (d.x - a.x));
        expect(ratio).toBeCloseTo(4 / 3, 4);
      }
    });
  }

  test("straight interpolation between first and last pole would be 8.9 cm wrong; the map is not", () => {
    const [first, last] = [turned.near[0]!, turned.near[5]!];
    const naive = (2.5 * (turned.paw.x - first.x)) / (last.x - first.x);
    expect(naive).toBeCloseTo(1.3186, 4);
    const { map } = fitGround(marks(turned), HD);
    expect(Math.abs(imageToGround(map!, turned.paw).xM - 1.23)).toBeLessThan(0.001);
  });

  test("a pole out of its even place breaks the cross-ratio: 0.5, 0.5, 0.6 m give 1.375", () => {
    const camera = phone({ yawDeg: 17, heightM: 0.7, distanceM: 4, rowMiddleM: 0.8, depthM: 0, ...HD });
    const [a, b, c, d] = [0, 0.5, 1, 1.6].map((x) => project(camera, x, 0, 0)!.x) as [
      number,
      number,
      number,
      number,
    ];
    expect(((c - a) * (d - b)) / ((c - b) * (d - a))).toBeCloseTo(1.375, 6);
  });
});

describe("any camera a person may hold", () => {
  const camera = fc.record({
    yawDeg: fc.double({ min: -35, max: 35, noNaN: true }),
    heightM: fc.double({ min: 0.3, max: 1.7, noNaN: true }),
    distanceM: fc.double({ min: 2.5, max: 6, noNaN: true }),
    rollDeg: fc.double({ min: -4, max: 4, noNaN: true }),
    focal: fc.double({ min: 0.6, max: 1.2, noNaN: true }),
  });
  const gaps = fc.array(fc.double({ min: 0.25, max: 0.8, noNaN: true }), { minLength: 2, maxLength: 6 });

  const scene = (
    c: { yawDeg: number; heightM: number; distanceM: number; rollDeg: number; focal: number },
    gapsM: number[],
    heightM: number,
    fromRight: boolean,
  ) => {
    const length = gapsM.reduce((sum, gap) => sum + gap, 0);
    const view = phone({
      ...c,
      ...HD,
      focalPx: c.focal * HD.widthPx,
      distanceM: c.distanceM + length / 2,
      rowMiddleM: length / 2,
      depthM: 0.45,
    });
    const toX = (xM: number) => (fromRight ? length - xM : xM);
    const draw = (xM: number, yM: number, zM: number) => project(view, toX(xM), yM, zM)!;
    const xs = [0, ...gapsM].map((_, k) => gapsM.slice(0, k).reduce((sum, gap) => sum + gap, 0));
    const marks: PoleMarks = {
      timeS: 0,
      poles: xs.map((x) => ({ near: draw(x, 0, heightM), far: draw(x, 0.9, heightM) })),
      gapsM,
      poleLengthM: 0.9,
      poleHeightM: heightM,
    };
    return { marks, draw, length };
  };

  test("taps without error give every place within 3 mm or two of its own standard errors, raised poles and paws too", () => {
    fc.assert(
      fc.property(
        camera,
        gaps,
        fc.double({ min: 0, max: 0.15, noNaN: true }),
        fc.boolean(),
        unit,
        unit,
        (c, gapsM, poleHeightM, fromRight, along, across) => {
          const { marks, draw, length } = scene(c, gapsM, poleHeightM, fromRight);
          const { map } = fitGround(marks, HD);
          const truth = { xM: along * length, yM: across * 0.9 };
          const pixel = draw(truth.xM, truth.yM, 0.03);
          const found = imageToGround(map!, pixel, 0.03);
          const se = groundStandardError(map!, pixel);
          expect(Math.abs(found.xM - truth.xM)).toBeLessThan(Math.max(0.003, 2 * se.xM));
          expect(Math.abs(found.yM - truth.yM)).toBeLessThan(Math.max(0.02, 2 * se.yM));
        },
      ),
      { numRuns: 60 },
    );
  });

  test("to the picture and back is the same place, at any height", () => {
    fc.assert(
      fc.property(
        camera,
        gaps,
        fc.boolean(),
        unit,
        unit,
        fc.double({ min: 0, max: 0.2, noNaN: true }),
        (c, gapsM, fromRight, along, across, heightM) => {
          const { marks, length } = scene(c, gapsM, 0, fromRight);
          const { map } = fitGround(marks, HD);
          const ground = { xM: along * length, yM: across * 0.9 };
          const back = imageToGround(map!, groundToImage(map!, ground, heightM), heightM);
          expect(back.xM).toBeCloseTo(ground.xM, 6);
          expect(back.yM).toBeCloseTo(ground.yM, 6);
        },
      ),
      { numRuns: 60 },
    );
  });
});

test("a paw point e above the ground seen from height H is thrown o·e/(H − e) away from the camera", () => {
  // Similar triangles. With H = 0.8 m, e = 0.03 m, o = 1 m: 3.9 cm; H = 0.5, e = 0.05, o = 1.25: 13.9 cm.
  for (const [heightM, e, o, error] of [
    [0.8, 0.03, 1, 0.039],
    [0.5, 0.05, 1.25, 0.1389],
    [1.2, 0.03, 1.25, 0.032],
  ] as const) {
    const camera = phone({ yawDeg: 0, heightM, distanceM: 4, rowMiddleM: 1.25, depthM: 0.5, ...HD });
    const xs = [0, 0.5, 1, 1.5, 2, 2.5];
    const { map } = fitGround(
      {
        timeS: 0,
        poles: xs.map((x) => ({ near: project(camera, x, 0, 0)!, far: project(camera, x, 1, 0)! })),
        gapsM: [0.5, 0.5, 0.5, 0.5, 0.5],
        poleLengthM: 1,
      },
      HD,
    );
    const pixel = project(camera, 1.25 + o, 0.4, e)!;
    expect(imageToGround(map!, pixel).xM - (1.25 + o)).toBeCloseTo(error, 3);
    expect(imageToGround(map!, pixel, e).xM).toBeCloseTo(1.25 + o, 3);
  }
});
