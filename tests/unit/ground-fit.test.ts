import { describe, expect, test } from "vitest";
import { type Camera, planeToImage, project } from "../../src/ground/camera.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { invert3, multiply3 } from "../../src/ground/homography.ts";
import {
  carryTap,
  foreshortening,
  groundStandardError,
  groundToImage,
  imageToGround,
  placeOnGround,
  rowRegion,
} from "../../src/ground/map.ts";
import { heightLeftOutShare, qualityOf, scaleStandardError } from "../../src/ground/quality.ts";
import type { PoleMarks, PoleTap } from "../../src/ground/types.ts";
import { normalFrom, phone, randomFrom } from "./ground-scene.ts";

const HD = { widthPx: 1920, heightPx: 1080 };
const GAPS = [0.5, 0.5, 0.5, 0.5];
const XS = [0, 0.5, 1, 1.5, 2];
const view = (of: Partial<Parameters<typeof phone>[0]> = {}) =>
  phone({ yawDeg: 12, heightM: 0.8, distanceM: 3.8, rowMiddleM: 1, depthM: 0.45, ...HD, ...of });

function marksOf(camera: Camera, noise: () => number = () => 0, laid: () => number = () => 0): PoleMarks {
  const tap = (x: number, y: number) => {
    const p = project(camera, x, y, 0)!;
    return { x: p.x + noise(), y: p.y + noise() };
  };
  return {
    timeS: 0,
    poles: XS.map((x) => x + laid()).map((x) => ({ near: tap(x, 0), far: tap(x, 0.9) })),
    gapsM: GAPS,
    poleLengthM: 0.9,
  };
}
const sentencesOf = (marks: PoleMarks) => fitGround(marks, HD).problems.map((p) => p.sentence);

test("ground seen square on is foreshortened by the sine of the angle at which one looks down on it", () => {
  for (const heightM of [0.3, 0.6, 1, 1.5]) {
    const { map } = fitGround(marksOf(view({ yawDeg: 0, heightM })), HD);
    const awayM = Math.hypot(map!.camera!.xM - 1, map!.camera!.yM - 0.45);
    expect(foreshortening(map!)).toBeCloseTo(heightM / Math.hypot(heightM, awayM), 2);
  }
});

describe("marks that cannot be used are answered with what to do", () => {
  const good = marksOf(view());
  const withPole = (k: number, tap: PoleTap) => ({ ...good, poles: good.poles.with(k, tap) });

  test("good marks raise no problem and leave small residuals", () => {
    const { problems, residuals } = fitGround(good, HD);
    expect(problems).toEqual([]);
    for (const r of residuals) expect(Math.abs(r.alongM)).toBeLessThan(1e-4);
  });

  test("two poles with one end each", () => {
    const marks = { ...good, poles: good.poles.slice(0, 2).map(({ near }) => ({ near })), gapsM: [0.5] };
    const fit = fitGround(marks, HD);
    expect(fit.map).toBeNull();
    expect(fit.problems[0]!.kind).toBe("too-few-poles");
    expect(fit.problems[0]!.sentence).toBe(
      "Too few pole ends are marked: tap both ends of at least two poles, or one end of at least three.",
    );
  });

  test("no pole at all", () => {
    const fit = fitGround({ timeS: 0, poles: [], gapsM: [] }, HD);
    expect(fit.map).toBeNull();
    expect(fit.problems.map((p) => p.kind)).toContain("too-few-poles");
  });

  test("a distance too few", () => {
    expect(sentencesOf({ ...good, gapsM: GAPS.slice(1) })).toEqual([
      "There are 5 poles but 3 distances between them: give one distance from each pole to the next, 4 in all.",
    ]);
  });

  test("distances in the wrong unit, of nought, and no number", () => {
    for (const [gap, said] of [
      [50, "50.00 m"],
      [0, "0 cm"],
      [Number.NaN, "no number"],
    ] as const)
      expect(sentencesOf({ ...good, gapsM: GAPS.with(1, gap) })).toEqual([
        `The distance from pole 2 to pole 3 is given as ${said}: it should lie between 10 cm and 3 m. Check the number and its unit.`,
      ]);
  });

  test("poles out of turn", () => {
    const poles = good.poles.with(1, good.poles[3]!).with(3, good.poles[1]!);
    const fit = fitGround({ ...good, poles }, HD);
    expect(fit.map).toBeNull();
    expect(fit.problems[0]!.kind).toBe("wrong-order");
  });

  test("two poles at the same place", () => {
    const fit = fitGround(withPole(2, good.poles[1]!), HD);
    expect(fit.map).toBeNull();
    expect(fit.problems[0]!.sentence).toBe(
      "Poles 2 and 3 are tapped at the same place: tap each pole at its own end.",
    );
  });

  test("near and far end exchanged: taken the other way round, and said", () => {
    const { near, far } = good.poles[2]!;
    const fit = fitGround(withPole(2, { near: far, far: near }), HD);
    expect(fit.problems.map((p) => [p.kind, p.usable, p.poles])).toEqual([["wrong-order", true, [2]]]);
    expect(fit.residuals[2]!.alongM).toBeCloseTo(0, 4);
  });

  test("a tap outside the picture is used and pointed at", () => {
    const camera = view({ yawDeg: 0, distanceM: 1.6 });
    const fit = fitGround(marksOf(camera), HD);
    expect(fit.map).not.toBeNull();
    expect(fit.problems.map((p) => p.kind)).toContain("outside-frame");
  });

  test("a tap that is no number counts as not there", () => {
    const fit = fitGround(withPole(2, { near: { x: Number.NaN, y: 3 }, far: good.poles[2]!.far }), HD);
    expect(fit.problems).toEqual([]);
  });

  test("a pole hidden altogether keeps its place", () => {
    const fit = fitGround(withPole(2, {}), HD);
    expect(fit.map!.poleXM).toEqual(XS);
    expect(fit.residuals.map((r) => r.pole)).toEqual([0, 1, 3, 4]);
  });
});

describe("a pole or a gap that does not go with the others", () => {
  test("a pole tapped 5 cm off is named, left out, and does not bend the map", () => {
    const camera = view();
    const good = marksOf(camera, noiseOf(3, 0.7));
    const off = (y: number) => project(camera, 1.05, y, 0)!;
    const fit = fitGround({ ...good, poles: good.poles.with(2, { near: off(0), far: off(0.9) }) }, HD);
    expect(fit.problems.map((p) => p.kind)).toEqual(["pole-off"]);
    expect(fit.problems[0]!.sentence).toBe(
      "Pole 3 lies 5 cm towards the last pole from where the other poles put it: tap pole 3 again, or is the gap before it not 50 cm? Until then the map leaves it out.",
    );
    expect(fit.residuals.map((r) => r.suspect)).toEqual([false, false, true, false, false]);
    const pixel = project(camera, 1.2, 0.5, 0)!;
    expect(imageToGround(fit.map!, pixel).xM).toBeCloseTo(1.2, 2);
  });

  test("a gap that is 6 cm longer than said is named with its length", () => {
    const good = marksOf(view(), noiseOf(4, 0.7));
    const fit = fitGround({ ...good, gapsM: GAPS.with(1, 0.44) }, HD);
    expect(fit.problems[0]!.sentence).toBe(
      "The gap from pole 2 to pole 3 looks like 50 cm, not 44 cm. Measure it again, or tap poles 2 and 3 again.",
    );
  });

  test("poles tapped on different planes: no one pole is to blame, the sentence asks for one height, and lengths are rough", () => {
    const camera = view();
    const noise = noiseOf(3, 1);
    const tap = (x: number, y: number, z: number) => {
      const p = project(camera, x, y, z)!;
      return { x: p.x + noise(), y: p.y + noise() };
    };
    const poles = XS.map((x, k) => ({
      near: tap(x, 0, k % 2 ? 0.12 : 0),
      far: tap(x, 0.9, k % 2 ? 0.12 : 0),
    }));
    const fit = fitGround({ timeS: 0, poles, gapsM: GAPS, poleLengthM: 0.9 }, HD);
    expect(fit.problems.at(-1)!.sentence).toMatch(
      /^The marked ends do not go together: they are off by up to \d+ cm\. Tap all of them at one height, .* until then places are rough\.$/,
    );
    expect(qualityOf(fit.map!, HD, { fps: 60, cameraMoves: false }).trust).toBe("rough");
    const found = imageToGround(fit.map!, project(camera, 1.2, 0.5, 0)!);
    const se = groundStandardError(fit.map!, project(camera, 1.2, 0.5, 0)!);
    expect(Math.abs(found.xM - 1.2)).toBeLessThan(3 * se.xM);
  });

  test("three poles with one gap 10 cm longer than said: the gap is named with its length", () => {
    const camera = view();
    const three = marksOf(camera, noiseOf(3, 1));
    const poles = [0, 0.5, 1.1].map((x) => ({
      near: project(camera, x, 0, 0)!,
      far: project(camera, x, 0.9, 0)!,
    }));
    expect(sentencesOf({ ...three, poles, gapsM: [0.5, 0.5] })).toEqual([
      "The gap from pole 2 to pole 3 looks like 60 cm, not 50 cm. Measure it again, or tap poles 2 and 3 again.",
    ]);
  });

  test("a camera behind the dog: said, and places stay within their own error", () => {
    const camera = view({ yawDeg: 88, distanceM: 4 });
    const fit = fitGround(marksOf(camera, noiseOf(3, 1)), HD);
    expect(fit.problems.map((p) => p.sentence)).toEqual([
      expect.stringMatching(
        /^The camera looks along the row, 8\d° off square: .* Film from the side next time\.$/,
      ),
    ]);
    const pixel = project(camera, 1.2, 0.5, 0)!;
    const off = Math.abs(imageToGround(fit.map!, pixel).xM - 1.2);
    expect(off).toBeLessThan(2 * groundStandardError(fit.map!, pixel).xM);
  });

  test("careful taps are hardly ever suspected", () => {
    let suspected = 0;
    for (let seed = 0; seed < 100; seed++)
      if (fitGround(marksOf(view(), noiseOf(seed, 1.5)), HD).residuals.some((r) => r.suspect)) suspected++;
    expect(suspected).toBeLessThanOrEqual(1);
  });
});

describe("less than both ends of every pole", () => {
  const camera = view();
  const marks = marksOf(camera);

  test("near ends only: a row map, called rough, exact at the near ends and honest behind them", () => {
    const fit = fitGround({ ...marks, poles: marks.poles.map(({ near }) => ({ near })) }, HD);
    expect(fit.map!.kind).toBe("row");
    expect(fit.problems.map((p) => p.kind)).toEqual(["rough"]);
    const at = (y: number) => {
      const pixel = project(camera, 1.23, y, 0)!;
      return { error: imageToGround(fit.map!, pixel).xM - 1.23, se: groundStandardError(fit.map!, pixel).xM };
    };
    expect(Math.abs(at(0).error)).toBeLessThan(0.002);
    expect(at(0).se).toBeLessThan(0.01);
    expect(Math.abs(at(0.45).error)).toBeLessThan(2 * at(0.45).se);
    expect(at(0.45).se).toBeGreaterThan(3 * at(0).se);
  });

  test("knowing where across the row the dog goes makes up for depth that near ends do not give", () => {
    const map = fitGround({ ...marks, poles: marks.poles.map(({ near }) => ({ near })) }, HD).map!;
    const pixel = project(camera, 1.8, 0.45, 0)!;
    const guess = groundStandardError(map, pixel).xM;
    const placed = placeOnGround(map, pixel, { lane: { yM: 0.45, sdM: 0.05 } });
    expect(placed.xSeM).toBeLessThan(0.7 * guess);
    expect(Math.abs(placed.xM - 1.8)).toBeLessThan(2 * placed.xSeM);
    expect(Math.abs(placed.yM - 0.45)).toBeLessThan(0.1);
  });

  test("far ends only", () => {
    const fit = fitGround({ ...marks, poles: marks.poles.map(({ far }) => ({ far })) }, HD);
    const pixel = project(camera, 1.23, 0.9, 0)!;
    expect(imageToGround(fit.map!, pixel).xM).toBeCloseTo(1.23, 2);
    expect(imageToGround(fit.map!, pixel).yM).toBeCloseTo(0.9, 1);
  });

  test("both ends of two poles are a plane", () => {
    const fit = fitGround({ ...marks, poles: [marks.poles[0]!, {}, {}, {}, marks.poles[4]!] }, HD);
    expect(fit.map!.kind).toBe("plane");
    const found = imageToGround(fit.map!, project(camera, 1.23, 0.4, 0)!);
    expect(found.xM).toBeCloseTo(1.23, 2);
  });

  test("some poles with both ends, some with one", () => {
    const poles = marks.poles.map((p, k) => (k % 2 ? { near: p.near } : p));
    const fit = fitGround({ ...marks, poles }, HD);
    expect(fit.map!.kind).toBe("plane");
    expect(imageToGround(fit.map!, project(camera, 1.23, 0.4, 0)!).xM).toBeCloseTo(1.23, 3);
  });

  test("an unknown pole length leaves places along the row right", () => {
    const fit = fitGround({ ...marks, poleLengthM: undefined }, HD);
    expect(imageToGround(fit.map!, project(camera, 1.23, 0.6, 0)!).xM).toBeCloseTo(1.23, 2);
  });

  test("two near ends and a dog of known height: very rough, but within its own error", () => {
    const upright = {
      foot: project(camera, 0.7, 0.5, 0)!,
      top: project(camera, 0.7, 0.5, 0.55)!,
      heightM: 0.55,
    };
    const poles = [{ near: marks.poles[0]!.near }, { near: marks.poles[2]!.near }];
    const fit = fitGround({ timeS: 0, poles, gapsM: [1], upright }, HD);
    expect(fit.problems.map((p) => p.kind)).toEqual(["rough"]);
    const pixel = project(camera, 0.7, 0.5, 0)!;
    const se = groundStandardError(fit.map!, pixel).xM;
    expect(Math.abs(imageToGround(fit.map!, pixel).xM - 0.7)).toBeLessThan(2 * se);
    expect(se).toBeLessThan(0.3);
  });

  test("the first pole on the right of the picture: x grows to the left", () => {
    const fit = fitGround({ ...marks, poles: [...marks.poles].reverse() }, HD);
    const found = imageToGround(fit.map!, project(camera, 0.3, 0.4, 0)!);
    expect(found.xM).toBeCloseTo(2 - 0.3, 3);
    expect(found.yM).toBeCloseTo(0.4, 2);
    expect(fit.map!.camera!.yM).toBeCloseTo(camera.y, 1);
    expect(fit.map!.camera!.xM).toBeCloseTo(2 - camera.x, 1);
  });
});

describe("poles and paws above the ground", () => {
  test("taps on raised poles give the ground under them", () => {
    const camera = view();
    const raised: PoleMarks = {
      timeS: 0,
      poles: XS.map((x) => ({ near: project(camera, x, 0, 0.2)!, far: project(camera, x, 0.9, 0.2)! })),
      gapsM: GAPS,
      poleLengthM: 0.9,
      poleHeightM: 0.2,
    };
    const right = fitGround(raised, HD).map!;
    const pixel = project(camera, 1.9, 0.4, 0)!;
    expect(imageToGround(right, pixel).xM).toBeCloseTo(1.9, 2);
    const ignoring = fitGround({ ...raised, poleHeightM: 0 }, HD).map!;
    expect(Math.abs(imageToGround(ignoring, pixel).xM - 1.9)).toBeGreaterThan(0.1);
  });
});

test("stated standard errors match the scatter of many careful taps on poles laid to 3 mm", () => {
  const camera = view({ yawDeg: 20 });
  const pixel = project(camera, 1.3, 0.45, 0)!;
  const runs = Array.from({ length: 150 }, (_, seed) => {
    const marks = marksOf(camera, noiseOf(seed + 1000, 1.5), noiseOf(seed + 5000, 0.003));
    const map = fitGround(marks, HD).map!;
    return { error: imageToGround(map, pixel).xM - 1.3, se: groundStandardError(map, pixel).xM };
  });
  const scatter = Math.sqrt(runs.reduce((sum, r) => sum + r.error ** 2, 0) / runs.length);
  const stated = runs.reduce((sum, r) => sum + r.se, 0) / runs.length;
  expect(stated / scatter).toBeGreaterThan(0.8);
  expect(stated / scatter).toBeLessThan(1.4);
  const covered = runs.filter((r) => Math.abs(r.error) < 1.96 * r.se).length / runs.length;
  expect(covered).toBeGreaterThan(0.9);
});

test("a wide lens that bends straight rows is noticed and straightened; a straight one is left alone", () => {
  const bent = { ...view({ focalPx: 900, distanceM: 2.4 }), radial: -0.12 };
  const fit = fitGround(marksOf(bent, noiseOf(1, 0.5)), HD);
  expect(fit.map!.lens!.k1).toBeCloseTo(-0.12, 1);
  const pixel = project(bent, 0.25, 0.5, 0)!;
  expect(imageToGround(fit.map!, pixel).xM).toBeCloseTo(0.25, 2);
  const there = groundToImage(fit.map!, imageToGround(fit.map!, pixel));
  expect(there.x).toBeCloseTo(pixel.x, 3);
  expect(there.y).toBeCloseTo(pixel.y, 3);
  expect(fitGround(marksOf(view(), noiseOf(2, 1.5)), HD).map!.lens).toBeUndefined();
});

describe("where paws can be", () => {
  const camera = view();
  const map = fitGround(marksOf(camera), HD).map!;

  test("the region holds every place near the row and little else", () => {
    const { box, polygon } = rowRegion(map, HD, { beforeM: 0.5, afterM: 0.5, aboveM: 0.15 });
    for (const [x, y, z] of [
      [0, 0, 0],
      [2, 0.9, 0],
      [1, 0.4, 0.14],
      [2.4, 0.1, 0],
    ] as const) {
      const p = project(camera, x, y, z)!;
      expect(p.x).toBeGreaterThan(box!.x);
      expect(p.x).toBeLessThan(box!.x + box!.width);
      expect(p.y).toBeGreaterThan(box!.y);
      expect(p.y).toBeLessThan(box!.y + box!.height);
    }
    expect(box!.height).toBeLessThan(0.4 * HD.heightPx);
    for (const p of polygon) {
      expect(p.x).toBeGreaterThanOrEqual(0);
      expect(p.x).toBeLessThanOrEqual(HD.widthPx);
    }
  });

  test("in a frame of a camera that turned, the region turns with it; a pole tapped there comes back", () => {
    const turned = { ...camera, yaw: camera.yaw + 0.3 };
    const toReference = multiply3(planeToImage(camera), invert3(planeToImage(turned)));
    const reach = { beforeM: 0.3, afterM: 0.3, aboveM: 0.1 };
    const { box } = rowRegion(map, HD, reach, toReference);
    const near = project(turned, 2, 0, 0)!;
    expect(near.x).toBeGreaterThan(box!.x);
    expect(near.x).toBeLessThan(box!.x + box!.width);
    expect(box!.x + box!.width).toBeLessThan(
      rowRegion(map, HD, reach).box!.x + rowRegion(map, HD, reach).box!.width,
    );
    const back = carryTap({ near }, toReference);
    expect(back.near!.x).toBeCloseTo(project(camera, 2, 0, 0)!.x, 6);
    expect(back.far).toBeUndefined();
  });

  test("above the horizon there is no ground, and the standard error says so", () => {
    expect(groundStandardError(map, { x: 960, y: 50 }).xM).toBe(Number.POSITIVE_INFINITY);
  });
});

describe("quality of a view", () => {
  test("a square tripod view at 60 fps needs no advice", () => {
    const map = fitGround(marksOf(view({ yawDeg: 3 }), noiseOf(9, 1)), HD).map!;
    const quality = qualityOf(map, HD, { fps: 60, cameraMoves: false });
    expect(quality.advice).toEqual([]);
    expect(quality.offSquareDeg!).toBeLessThan(5);
    expect(quality.cmPerPixel[1]).toBeLessThan(0.5);
    expect(quality.landingSeM).toBeLessThan(0.016);
    expect(quality.trust).toBe("good");
  });

  test("from a foot above the ground lengths are rough, and the advice is to hold the camera higher", () => {
    const map = fitGround(marksOf(view({ heightM: 0.3 }), noiseOf(9, 1)), HD).map!;
    const quality = qualityOf(map, HD, { fps: 60, cameraMoves: false });
    expect(quality.scaleSe).toBeGreaterThan(0.025);
    expect(quality.trust).toBe("rough");
    expect(quality.advice[0]).toMatch(
      /^The camera was \d+ cm up, so lengths are known to ± \d % only: hold it/,
    );
  });

  test("what is common to all landings: a mark's height over the camera's, and little from the taps of a good view", () => {
    const at = (heightM: number) =>
      scaleStandardError(fitGround(marksOf(view({ heightM }), noiseOf(9, 1)), HD).map!);
    // Similar triangles: ± 0.8 cm seen from 1 m stretches lengths by ± 0.8 %, from 1.5 m by ± 0.53 %.
    expect(at(1)).toBeGreaterThan(0.008);
    expect(at(1)).toBeLessThan(0.011);
    expect(at(1.5)).toBeLessThan(0.0075);
  });

  test("a pole height left out shortens lengths by the share that is told", () => {
    const raisedM = 0.05;
    const camera = view();
    const at = (x: number, y: number, z: number) => project(camera, x, y, z)!;
    const marks = {
      timeS: 0,
      poles: XS.map((x) => ({ near: at(x, 0, raisedM), far: at(x, 0.9, raisedM) })),
      gapsM: GAPS,
      poleLengthM: 0.9,
    };
    const map = fitGround(marks, HD).map!;
    const [a, b] = [0.5, 1.5].map((x) => imageToGround(map, at(x, 0.5, 0)).xM);
    expect(1 - (b! - a!)).toBeCloseTo(heightLeftOutShare(map, raisedM)!, 2);
  });

  test("off square, in the hand, at 30 fps: advice, off square first, frame rate last", () => {
    const map = fitGround(marksOf(view({ yawDeg: 32 }), noiseOf(9, 1)), HD).map!;
    const { advice, offSquareDeg } = qualityOf(map, HD, { fps: 30, cameraMoves: true });
    expect(offSquareDeg!).toBeGreaterThan(28);
    expect(advice[0]).toMatch(/^The camera stood 3[12]° off square: stand opposite the middle of the row\.$/);
    expect(advice).toContain("The camera moved: a tripod, or a phone leaned on something, measures better.");
    expect(advice.at(-1)).toBe(
      "The clip has 30 frames a second: choose 60 or more in the camera's settings.",
    );
  });

  test("a row seen from its end is called rough", () => {
    const marks = marksOf(view({ yawDeg: 72, distanceM: 5 }));
    expect(fitGround(marks, HD).problems.map((p) => p.kind)).toContain("rough");
  });
});

function noiseOf(seed: number, sdPx: number): () => number {
  const normal = normalFrom(randomFrom(seed));
  return () => sdPx * normal();
}
