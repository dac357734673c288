import { describe, expect, test } from "vitest";
import { anchorToPoles } from "../../src/ground/anchor.ts";
import { type Camera, planeToImage, project } from "../../src/ground/camera.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { applyHomography, invert3, multiply3 } from "../../src/ground/homography.ts";
import { tellKnocks } from "../../src/ground/knocks.ts";
import { imageToGround } from "../../src/ground/map.ts";
import { poleLine } from "../../src/ground/pole-line.ts";
import { lookAtPoles } from "../../src/ground/pole-looks.ts";
import { createRegistrar } from "../../src/ground/registrar.ts";
import { restOfRow } from "../../src/ground/rest-of-row.ts";
import { snapToPole } from "../../src/ground/snap.ts";
import { suggestPoles } from "../../src/ground/suggest.ts";
import type { FrameRegistration } from "../../src/ground/types.ts";
import { watchPoles } from "../../src/pipeline/poles.ts";
import { noiseTile, normalFrom, phone, randomFrom, render, type Scene } from "./ground-scene.ts";

const FULL = { widthPx: 1920, heightPx: 1080 };
const XS = [0, 0.5, 1, 1.5, 2];
const SCENE: Scene = {
  ground: noiseTile(1),
  wall: noiseTile(2, 150, 60),
  wallM: 6,
  poles: XS.map((xM) => ({ xM })),
  poleLengthM: 1,
  poleWidthM: 0.04,
};
const CAMERA = phone({ yawDeg: 10, heightM: 0.8, distanceM: 3.6, rowMiddleM: 1, depthM: 0.5, ...FULL });
const noise = normalFrom(randomFrom(11));

function picture(camera: Camera, width: number, scene: Scene = SCENE) {
  const height = Math.round((width * FULL.heightPx) / FULL.widthPx);
  return { ...render(camera, width, height, FULL.widthPx, scene, noise), channels: 1 as const };
}

/** Pole ends in pixels of a picture of that width. */
function ends(camera: Camera, width: number, xM: number) {
  const drawn = (yM: number) => drawnAt(camera, width, xM, yM);
  return { near: drawn(0), far: drawn(1) };
}

function drawnAt(camera: Camera, width: number, xM: number, yM: number) {
  const p = project(camera, xM, yM, 0)!;
  return { x: (p.x * width) / FULL.widthPx, y: (p.y * width) / FULL.widthPx };
}

/** As taps mark them: half the drawn width within the outline, for a round pole's end is drawn as a disc. */
function middles(camera: Camera, width: number, xM: number) {
  const { near, far } = ends(camera, width, xM);
  const length = apart(near, far);
  const rim = (yM: number) => {
    const half = SCENE.poleWidthM / 2;
    const [a, b] = [drawnAt(camera, width, xM - half, yM), drawnAt(camera, width, xM + half, yM)];
    return Math.abs((b.x - a.x) * (far.y - near.y) - (b.y - a.y) * (far.x - near.x)) / length / 2;
  };
  const between = (by: number) => ({
    x: near.x + (by / length) * (far.x - near.x),
    y: near.y + (by / length) * (far.y - near.y),
  });
  return { near: between(rim(0)), far: between(length - rim(1)) };
}

const apart = (p: { x: number; y: number }, q: { x: number; y: number }) => Math.hypot(p.x - q.x, p.y - q.y);

describe("suggesting poles", () => {
  for (const yawDeg of [0, 20])
    test(`all five poles are found from ${yawDeg}° off square, left to right`, () => {
      const camera = phone({ yawDeg, heightM: 0.8, distanceM: 3.6, rowMiddleM: 1, depthM: 0.5, ...FULL });
      const { poles, confidence } = suggestPoles(picture(camera, 960));
      expect(poles).toHaveLength(5);
      expect(confidence).toBeGreaterThan(0.6);
      poles.forEach((pole, k) => {
        const truth = ends(camera, 960, XS[k]!);
        expect(apart(pole.near!, truth.near)).toBeLessThan(4);
        expect(apart(pole.far!, truth.far)).toBeLessThan(4);
      });
    });

  test("bare ground: nothing that could be taken for sure", () => {
    const { confidence } = suggestPoles(picture(CAMERA, 960, { ...SCENE, poles: [] }));
    expect(confidence).toBeLessThan(0.5);
  });

  test("red poles on grass as light as they are, told apart by colour alone", () => {
    const bare = picture(CAMERA, 960, { ...SCENE, poles: [] });
    const marked = picture(CAMERA, 960);
    const data = new Uint8Array(bare.data.length * 3);
    bare.data.forEach((grey, k) => {
      const pole = marked.data[k]! > 200;
      data[3 * k] = pole ? Math.min(255, grey + 80) : grey * 0.8;
      data[3 * k + 1] = pole ? Math.max(0, grey - 60) : grey * 1.05;
      data[3 * k + 2] = grey * 0.6;
    });
    const { poles } = suggestPoles({ data, width: 960, height: 540, channels: 3 });
    expect(poles).toHaveLength(5);
    poles.forEach((pole, k) => {
      expect(apart(pole.near!, ends(CAMERA, 960, XS[k]!).near)).toBeLessThan(6);
    });
  });
});

describe("the rest of a row", () => {
  const shot = picture(CAMERA, 960);
  const whole = (x: number) => middles(CAMERA, 960, x);
  const frame = { widthPx: 960, heightPx: 540 };

  for (const [name, tapped] of [
    ["the first two", [0, 0.5]],
    ["two in the middle", [1, 1.5]],
    ["the last two, from the other end", [2, 1.5]],
  ] as const)
    test(`${name} tapped: the others follow in order, to some pixels, most of them along the poles`, () => {
      const { poles, found } = restOfRow(shot, tapped.map(whole), frame)!;
      expect(found).toBe(3);
      const order = tapped[0] < tapped[1] ? XS : XS.toReversed();
      poles.forEach((pole, k) => {
        const truth = whole(order[k]!);
        expect(apart(pole.near, truth.near)).toBeLessThan(9);
        expect(apart(pole.far, truth.far)).toBeLessThan(9);
      });
    });

  test("where no further pole lies, none is made up", () => {
    const two = picture(CAMERA, 960, { ...SCENE, poles: [{ xM: 0.5 }, { xM: 1 }] });
    expect(restOfRow(two, [whole(0.5), whole(1)], frame)).toMatchObject({ found: 0 });
  });

  test("one pole is no row", () => {
    expect(restOfRow(shot, [whole(0)], frame)).toBeNull();
  });
});

describe("drawing both ends onto the pole's line", () => {
  test("taps 4 px off lie within a pixel of the line afterwards, and where they were along it", () => {
    const shot = picture(CAMERA, 960);
    const random = randomFrom(6);
    let drawn = 0;
    for (const x of XS) {
      const truth = middles(CAMERA, 960, x);
      const off = () => 8 * (random() - 0.5);
      const taps = {
        near: { x: truth.near.x + off(), y: truth.near.y + off() },
        far: { x: truth.far.x + off(), y: truth.far.y + off() },
      };
      const line = poleLine(shot, taps, 10);
      if (!line) continue;
      drawn++;
      const length = apart(truth.near, truth.far);
      const across = (p: { x: number; y: number }) =>
        Math.abs(
          (p.x - truth.near.x) * (truth.far.y - truth.near.y) -
            (p.y - truth.near.y) * (truth.far.x - truth.near.x),
        ) / length;
      for (const end of ["near", "far"] as const) {
        expect(across(line[end])).toBeLessThan(1);
        expect(apart(line[end], taps[end])).toBeLessThan(6);
      }
    }
    expect(drawn).toBeGreaterThanOrEqual(4);
  });

  test("the shaded underside belongs to the pole, its shadow on the ground does not", () => {
    const random = randomFrom(9);
    const [width, height] = [240, 160];
    const data = new Uint8Array(3 * width * height);
    // A pole of 12 px from (60, 140) to (180, 20), striped, its lower third in the shade; 20 px below it its shadow.
    const [c, s] = [Math.SQRT1_2, -Math.SQRT1_2];
    for (let y = 0; y < height; y++)
      for (let x = 0; x < width; x++) {
        const along = (x + 0.5 - 60) * c + (y + 0.5 - 140) * s;
        const below = -(x + 0.5 - 60) * s + (y + 0.5 - 140) * c;
        const paint = along % 50 < 25 ? [30, 60, 160] : [225, 225, 215];
        const lit = below < 2 ? 1 : 0.45;
        const onPole = Math.abs(below) < 6 && along > 0 && along < 170;
        const inShadow = Math.abs(below - 26) < 5;
        const colour = onPole
          ? paint.map((v) => v * lit)
          : [90, 120, 60].map((v) => (inShadow ? 0.55 * v : v));
        colour.forEach((v, k) => {
          data[3 * (y * width + x) + k] = Math.round(v + 8 * (random() - 0.5));
        });
      }
    const shaded = { data, width, height, channels: 3 as const };
    for (const off of [-5, 0, 5]) {
      const line = poleLine(shaded, { near: { x: 60 + off, y: 140 }, far: { x: 180, y: 20 + off } }, 12)!;
      for (const p of [line.near, line.far])
        expect(Math.abs(-(p.x - 60) * s + (p.y - 140) * c)).toBeLessThan(0.7);
      expect(line.nearWidthPx).toBeGreaterThan(10);
      expect(line.nearWidthPx).toBeLessThan(14);
    }
  });

  test("on bare ground there is no line", () => {
    const bare = picture(CAMERA, 960, { ...SCENE, poles: [] });
    expect(poleLine(bare, middles(CAMERA, 960, 1), 10)).toBeNull();
  });
});

describe("snapping a tap", () => {
  test("a tap near an end comes to the end, and the other end is suggested", () => {
    const shot = picture(CAMERA, 960);
    const random = randomFrom(5);
    for (const x of XS) {
      const truth = middles(CAMERA, 960, x);
      const tap = { x: truth.near.x + 10 * (random() - 0.5), y: truth.near.y + 10 * (random() - 0.5) };
      const snapped = snapToPole(shot, tap, 14)!;
      expect(apart(snapped.point, truth.near)).toBeLessThan(2.5);
      expect(apart(snapped.otherEnd, truth.far)).toBeLessThan(6);
    }
  });

  test("a tap on bare ground is left where it is", () => {
    expect(snapToPole(picture(CAMERA, 960), { x: 500, y: 480 }, 14)).toBeNull();
  });
});

describe("knocked poles", () => {
  const WIDTH = 480;
  const SCALE = FULL.widthPx / WIDTH;
  const marked = (camera: Camera) =>
    fitGround(
      {
        timeS: 0,
        poles: XS.map((xM) => ends(camera, FULL.widthPx, xM)),
        gapsM: [0.5, 0.5, 0.5, 0.5],
        poleLengthM: 1,
      },
      FULL,
    ).map!;
  const map = marked(CAMERA);
  const PASSES = [
    { id: "there", startS: 1, endS: 2 },
    { id: "back", startS: 4, endS: 5 },
  ];

  /** Six seconds with a pass from 1 s to 2 s and one back from 4 s to 5 s; poles lie as `after` says from 1.4 s on. */
  function look(after: Scene["poles"]) {
    const kept = new Map<string, ReturnType<typeof picture>>();
    const shown = (key: string, draw: () => ReturnType<typeof picture>) =>
      kept.get(key) ?? kept.set(key, draw()).get(key)!;
    return Array.from({ length: 60 }, (_, k) => {
      const timeS = k / 10;
      const poles = timeS < 1.4 ? SCENE.poles : after;
      const pass = PASSES.find((p) => timeS > p.startS && timeS < p.endS);
      const way = pass ? timeS - pass.startS : 0;
      const dogX = pass ? 1 + (pass.id === "there" ? 1 : -1) * (4 * way - 2) * 0.85 : 0;
      const dog = pass && { xM: dogX, lengthM: 0.8, heightM: 0.5 };
      const grey = shown(`${timeS < 1.4} ${dog ? dogX.toFixed(2) : k % 3}`, () =>
        picture(CAMERA, WIDTH, { ...SCENE, poles, dog }),
      );
      const at = ends(CAMERA, WIDTH, dogX).near.x;
      const box = dog ? [{ x: at - 70, y: 0, width: 140, height: 270 }] : [];
      return lookAtPoles({ map, scale: SCALE }, grey, timeS, undefined, box);
    });
  }
  const story = (after: Scene["poles"], referenceS = 0) => tellKnocks(look(after), map, PASSES, referenceS);

  test("untouched poles are not knocked", () => {
    expect(story(SCENE.poles)).toEqual({ knocks: [], movedM: {} });
  });

  test("a pole pushed 5 cm on is found with its shift and when; the way back faces it there", () => {
    const { knocks, movedM } = story(SCENE.poles.with(1, { xM: 0.55 }));
    expect(knocks).toHaveLength(1);
    expect(knocks[0]).toMatchObject({ passId: "there", pole: 1 });
    expect(knocks[0]!.shiftM!).toBeCloseTo(0.05, 2);
    expect(knocks[0]!.timeS).toBeGreaterThanOrEqual(1.3);
    expect(knocks[0]!.timeS).toBeLessThan(2.1);
    expect(Object.keys(movedM)).toEqual(["back"]);
    expect(movedM.back!.map((m) => Math.round(100 * m))).toEqual([0, 5, 0, 0, 0]);
  });

  test("marked after the knock, the pass before it faced the pole where it was first", () => {
    const { movedM } = story(SCENE.poles.with(1, { xM: 0.55 }), 3);
    expect(Object.keys(movedM)).toEqual(["there"]);
    expect(movedM.there!.map((m) => Math.round(100 * m))).toEqual([0, -5, 0, 0, 0]);
  });

  test("a pole turned askew is found", () => {
    const { knocks } = story(SCENE.poles.with(3, { xM: 1.5, turnM: 0.1 }));
    expect(knocks.map((k) => k.pole)).toEqual([3]);
  });

  test("a pole that rolled far away is found, its shift unknown", () => {
    const { knocks } = story(SCENE.poles.with(4, { xM: 2.9 }));
    expect(knocks.map((k) => [k.pole, k.shiftM])).toEqual([[4, null]]);
  });

  describe("under a camera that pans with the dog", () => {
    const camera = (k: number): Camera => ({ ...CAMERA, yaw: CAMERA.yaw + 0.35 * (k / 39 - 0.5) });
    const reference = 4;
    const panned = marked(camera(reference));
    /** Four seconds, ten frames each; the dog crosses from 1 s to 3 s and pushes the third pole at 2 s. */
    const frames = Array.from({ length: 40 }, (_, k) => {
      const dogX = -1 + (4 * (k - 8)) / 24;
      const dog = dogX > -1 && dogX < 3 ? { xM: dogX, lengthM: 0.8, heightM: 0.5 } : undefined;
      const poles = k < 20 ? SCENE.poles : SCENE.poles.with(2, { xM: 1.06 });
      const at = (ends(camera(k), WIDTH, dogX).near.x + ends(camera(k), WIDTH, dogX).far.x) / 2;
      return {
        grey: picture(camera(k), WIDTH, { ...SCENE, poles, dog }),
        timeS: k / 10,
        avoid: dog ? [{ x: at - 75, y: 0, width: 150, height: 270 }] : [],
      };
    });
    const truth = frames.map(({ timeS }, k) => ({
      timeS,
      ok: true,
      frameToReference: multiply3(planeToImage(camera(reference)), invert3(planeToImage(camera(k)))),
    }));
    /** The chain slips along the row, up to 4 cm at the clip's end. */
    const drifting = truth.map((r, k) => ({
      ...r,
      frameToReference: multiply3(
        multiply3(panned.groundToImage, [1, 0, (0.04 * (k - reference)) / 35, 0, 1, 0, 0, 0, 1]),
        multiply3(panned.imageToGround, r.frameToReference),
      ),
    }));
    const through = (way: FrameRegistration[]) =>
      frames.map(({ grey, timeS, avoid }, k) =>
        lookAtPoles({ map: panned, scale: SCALE }, grey, timeS, way[k]!.frameToReference, avoid),
      );

    test("the poles put a drifting chain right to a few millimetres", () => {
      const { registrations, putRightM, doubted } = anchorToPoles(
        drifting,
        through(drifting),
        panned,
        reference / 10,
      );
      expect(doubted).toEqual([]);
      expect(putRightM).toBeGreaterThan(0.03);
      registrations.forEach((r, k) => {
        const at = project(camera(k), 1, 0.5, 0)!;
        const landed = imageToGround(panned, applyHomography(r.frameToReference, at));
        expect(Math.abs(landed.xM - 1)).toBeLessThan(0.007);
      });
    });

    test("a camera carried past plain ground, its background close behind: the poles hold the row to 2 cm", () => {
      const random = randomFrom(4);
      const [count, size, everyS] = [24, { width: 480, height: 270 }, 0.05];
      const scene = { ...SCENE, ground: noiseTile(1, 120, 4), wall: noiseTile(2, 150, 60), wallM: 2.5 };
      const cameras = Array.from({ length: count }, (_, k) => ({
        ...CAMERA,
        x: CAMERA.x + 0.5 * (k / (count - 1) - 0.5),
      }));
      const reference = cameras[count / 2]!;
      const marks = {
        timeS: (count / 2) * everyS,
        poles: XS.map((x) => ({ near: project(reference, x, 0, 0)!, far: project(reference, x, 1, 0)! })),
        gapsM: XS.slice(1).map((x, k) => x - XS[k]!),
        poleLengthM: 1,
      };
      const map = fitGround(marks, FULL).map!;
      const scale = FULL.widthPx / size.width;
      const registrar = createRegistrar({ ...size, scale });
      const watch = watchPoles({ map, scale }, marks.timeS);
      cameras.forEach((camera, k) => {
        const grey = render(camera, size.width, size.height, FULL.widthPx, scene, normalFrom(random));
        registrar.add(grey, k * everyS);
        watch.add(grey, k * everyS, []);
      });
      const chain = registrar.finish(marks.timeS);
      const seen = watch.finish(chain.registrations, chain.report);
      const off = (registrations: readonly FrameRegistration[]) =>
        Math.max(
          ...registrations.flatMap((r, k) =>
            XS.flatMap((x) => {
              const p = project(cameras[k]!, x, 0.5, 0)!;
              if (p.x < 0 || p.x > FULL.widthPx) return [];
              return [Math.abs(imageToGround(map, applyHomography(r.frameToReference, p)).xM - x)];
            }),
          ),
        );
      expect(off(chain.registrations)).toBeGreaterThan(0.05);
      expect(off(seen.registrations)).toBeLessThan(0.02);
      expect(seen.putRightM).toBeGreaterThan(0.04);
    });

    test("a chain that has lost the ground altogether is doubted, in seconds", () => {
      const lost = truth.map((r, k) =>
        k < 25
          ? r
          : { ...r, frameToReference: multiply3([1, 0, 90, 0, 1, -60, 0, 0, 1], r.frameToReference) },
      );
      const { registrations, doubted } = anchorToPoles(lost, through(lost), panned, reference / 10);
      expect(doubted).toEqual([[2.5, 3.9]]);
      expect(registrations.map((r) => r.ok)).toEqual(frames.map((_, k) => k < 25));
    });

    test("while the poles are out of the picture nothing is doubted, and what was known goes on", () => {
      const looks = through(drifting).map((l, k) =>
        k < 20 ? l : { ...l, profiles: l.profiles.map((stations) => stations.map(() => null)) },
      );
      const { registrations, doubted } = anchorToPoles(drifting, looks, panned, reference / 10);
      expect(doubted).toEqual([]);
      expect(registrations.every((r) => r.ok)).toBe(true);
    });

    test("a knock is found and the poles beside it are not", () => {
      const { registrations } = anchorToPoles(drifting, through(drifting), panned, reference / 10);
      const { knocks } = tellKnocks(
        through(registrations),
        panned,
        [{ id: "pass", startS: 0.8, endS: 3.2 }],
        reference / 10,
      );
      expect(knocks.map((k) => k.pole)).toEqual([2]);
      expect(knocks[0]!.shiftM!).toBeCloseTo(0.06, 2);
    });
  });
});
