import { describe, expect, test } from "vitest";
import { type Camera, project } from "../../src/ground/camera.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { createPoleWatch } from "../../src/ground/knocks.ts";
import { snapToPole } from "../../src/ground/snap.ts";
import { suggestPoles } from "../../src/ground/suggest.ts";
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
  const drawn = (yM: number) => {
    const p = project(camera, xM, yM, 0)!;
    return { x: (p.x * width) / FULL.widthPx, y: (p.y * width) / FULL.widthPx };
  };
  return { near: drawn(0), far: drawn(1) };
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

describe("snapping a tap", () => {
  test("a tap near an end comes to the end, and the other end is suggested", () => {
    const shot = picture(CAMERA, 960);
    const random = randomFrom(5);
    for (const x of XS) {
      const truth = ends(CAMERA, 960, x);
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
  const map = fitGround(
    {
      timeS: 0,
      poles: XS.map((xM) => ends(CAMERA, FULL.widthPx, xM)),
      gapsM: [0.5, 0.5, 0.5, 0.5],
      poleLengthM: 1,
    },
    FULL,
  ).map!;

  /** Three still seconds with a pass from 1 s to 2 s; the poles lie as `after` says from 1.4 s on. */
  function watch(after: Scene["poles"]) {
    const frames = [SCENE.poles, after].map((poles) =>
      [0, 1, 2].map(() => picture(CAMERA, WIDTH, { ...SCENE, poles })),
    );
    const passing = [SCENE.poles, after].map(
      (poles) => (xM: number) =>
        picture(CAMERA, WIDTH, { ...SCENE, poles, dog: { xM, lengthM: 0.8, heightM: 0.5 } }),
    );
    const poleWatch = createPoleWatch({ map, scale: FULL.widthPx / WIDTH });
    for (let k = 0; k < 30; k++) {
      const timeS = k / 10;
      const then = timeS < 1.4 ? 0 : 1;
      const dogX = 4 * (timeS - 1) - 0.7;
      const busy = timeS > 1 && timeS < 2;
      const box = ends(CAMERA, WIDTH, dogX);
      poleWatch.add(
        busy ? passing[then]!(dogX) : frames[then]![k % 3]!,
        timeS,
        undefined,
        busy ? [{ x: box.near.x - 70, y: 0, width: 140, height: 270 }] : [],
      );
    }
    return poleWatch.findKnocks([{ id: "pass-1", startS: 1, endS: 2 }]);
  }

  test("untouched poles are not knocked", () => {
    expect(watch(SCENE.poles)).toEqual([]);
  });

  test("a pole pushed 5 cm on is found, with its shift and about when", () => {
    const knocks = watch(SCENE.poles.with(1, { xM: 0.55 }));
    expect(knocks).toHaveLength(1);
    expect(knocks[0]!.pole).toBe(1);
    expect(knocks[0]!.shiftM!).toBeCloseTo(0.05, 2);
    expect(knocks[0]!.timeS).toBeGreaterThanOrEqual(1.3);
    expect(knocks[0]!.timeS).toBeLessThan(2.1);
  });

  test("a pole turned askew is found", () => {
    const knocks = watch(SCENE.poles.with(3, { xM: 1.5, turnM: 0.1 }));
    expect(knocks.map((k) => k.pole)).toEqual([3]);
  });

  test("a pole that rolled far away is found, its shift unknown", () => {
    const knocks = watch(SCENE.poles.with(4, { xM: 2.9 }));
    expect(knocks.map((k) => [k.pole, k.shiftM])).toEqual([[4, null]]);
  });
});
