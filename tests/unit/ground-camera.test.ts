import { describe, expect, test } from "vitest";
import { type Camera, planeToImage } from "../../src/ground/camera.ts";
import { applyHomography, invert3 } from "../../src/ground/homography.ts";
import { createRegistrar } from "../../src/ground/registrar.ts";
import type { FrameRegistration } from "../../src/ground/types.ts";
import { noiseTile, normalFrom, phone, randomFrom, render, type Scene } from "./ground-scene.ts";

const FULL = { widthPx: 1920, heightPx: 1080 };
const GREY = { width: 480, height: 270 };
const SCALE = FULL.widthPx / GREY.width;

const SCENE: Scene = {
  ground: noiseTile(1),
  wall: noiseTile(2, 150, 60),
  wallM: 6,
  poles: [0, 0.5, 1, 1.5, 2, 2.5].map((xM) => ({ xM })),
  poleLengthM: 1,
  poleWidthM: 0.05,
};
const BASE = phone({ yawDeg: 10, heightM: 0.8, distanceM: 3.6, rowMiddleM: 1.25, depthM: 0.5, ...FULL });

/** Renders the cameras as a clip at 30 frames a second, a dog walking through, and registers it. */
function film(cameras: readonly (Camera | "covered")[], options: { dog?: boolean; box?: boolean } = {}) {
  const noise = normalFrom(randomFrom(7));
  const registrar = createRegistrar({ ...GREY, scale: SCALE });
  cameras.forEach((camera, k) => {
    const dog =
      options.dog === false
        ? undefined
        : { xM: -0.5 + (3.5 * k) / cameras.length, lengthM: 0.9, heightM: 0.6 };
    const grey =
      camera === "covered"
        ? { ...GREY, data: new Uint8Array(GREY.width * GREY.height).fill(20) }
        : render(camera, GREY.width, GREY.height, FULL.widthPx, { ...SCENE, dog }, noise);
    registrar.add(grey, k / 30);
  });
  return registrar;
}

/** Errors in metres of places along the row where a frame shows them, carried to the reference and to the ground. */
function groundErrors(
  registrations: readonly FrameRegistration[],
  cameras: readonly Camera[],
  reference: Camera,
): number[] {
  const toGround = invert3(planeToImage(reference));
  return registrations.flatMap((r, k) => {
    if (!r.ok) return [];
    const drawn = planeToImage(cameras[k]!);
    return [0, 0.6, 1.2, 1.8, 2.4].flatMap((x) => {
      const p = applyHomography(drawn, { x, y: 0.5 });
      if (p.x < 0 || p.x > FULL.widthPx) return [];
      return [Math.abs(applyHomography(toGround, applyHomography(r.frameToReference, p)).x - x)];
    });
  });
}

function shaken(frames: number, seed: number): Camera[] {
  const normal = normalFrom(randomFrom(seed));
  const wander = (sd: number) => {
    let value = 0;
    return Array.from({ length: frames }, () => {
      value = 0.85 * value + Math.sqrt(1 - 0.85 ** 2) * sd * normal();
      return value;
    });
  };
  const [yaw, pitch, roll] = [wander(0.006), wander(0.006), wander(0.006)];
  const [x, y, z] = [wander(0.008), wander(0.008), wander(0.008)];
  return yaw.map((turn, k) => ({
    ...BASE,
    yaw: BASE.yaw + turn,
    pitch: BASE.pitch + pitch[k]!,
    roll: BASE.roll + roll[k]!,
    x: BASE.x + x[k]!,
    y: BASE.y + y[k]!,
    height: BASE.height + z[k]!,
  }));
}

describe("camera motion", () => {
  test("a tripod is recognised, with a dog in the picture", () => {
    const { registrations, report } = film(Array.from({ length: 12 }, () => BASE)).finish(0);
    expect(report).toEqual({ kind: "still", largestShiftPx: 0, lost: [] });
    expect(registrations).toEqual([]);
  });

  test("a hand-held clip keeps the row in place to half a centimetre", () => {
    const cameras = shaken(24, 3);
    const { registrations, report } = film(cameras).finish(0.4);
    expect(report.kind).toBe("moving");
    expect(report.lost).toEqual([]);
    expect(registrations).toHaveLength(24);
    const errors = groundErrors(registrations, cameras, cameras[12]!);
    expect(errors.length).toBeGreaterThan(90);
    expect(Math.max(...errors)).toBeLessThan(0.005);
  });

  test("a pan over 40° with zoom is carried through key frames to a centimetre", () => {
    const cameras = shaken(40, 4).map((c, k) => ({
      ...c,
      yaw: c.yaw + (k / 39 - 0.5) * 0.7,
      focalPx: c.focalPx * (1 + (0.3 * k) / 39),
    }));
    const { registrations, report } = film(cameras).finish(20 / 30);
    expect(report.lost).toEqual([]);
    expect(report.largestShiftPx).toBeGreaterThan(600);
    const errors = groundErrors(registrations, cameras, cameras[20]!);
    expect(errors.length).toBeGreaterThan(60);
    expect(Math.max(...errors)).toBeLessThan(0.01);
  });

  test("a knock against the tripod leaves both stretches usable", () => {
    const bumped = { ...BASE, yaw: BASE.yaw + 0.012, pitch: BASE.pitch + 0.004 };
    const cameras = Array.from({ length: 30 }, (_, k) => (k < 8 ? BASE : bumped));
    const registrar = film(cameras);
    const { registrations, report } = registrar.finish(0);
    expect(report.kind).toBe("moving");
    expect(report.lost).toEqual([]);
    expect(Math.max(...groundErrors(registrations, cameras, BASE))).toBeLessThan(0.004);
  });

  test("a covered lens is reported in seconds, and only that stretch is left out", () => {
    const cameras = shaken(24, 5);
    const clip = cameras.map((c, k) => (k >= 9 && k < 14 ? ("covered" as const) : c));
    const { registrations, report } = film(clip).finish(0);
    expect(report.lost).toEqual([[9 / 30, 13 / 30]]);
    expect(registrations.map((r) => r.ok)).toEqual(cameras.map((_, k) => k < 9 || k >= 14));
    expect(Math.max(...groundErrors(registrations, cameras, cameras[0]!))).toBeLessThan(0.006);
  });

  test("the background is found again elsewhere after a blind swing", () => {
    const cameras = Array.from({ length: 20 }, (_, k) => ({ ...BASE, yaw: BASE.yaw + (k < 8 ? 0 : 0.12) }));
    const clip = cameras.map((c, k) => (k === 8 || k === 9 ? ("covered" as const) : c));
    const { registrations, report } = film(clip).finish(0);
    expect(report.lost).toEqual([[8 / 30, 9 / 30]]);
    expect(Math.max(...groundErrors(registrations, cameras, BASE))).toBeLessThan(0.006);
  });

  test("the same clip gives the same answer twice", () => {
    const cameras = shaken(8, 6);
    expect(film(cameras).finish(0)).toEqual(film(cameras).finish(0));
  });

  test("frames of another size or out of order are refused", () => {
    const registrar = createRegistrar({ ...GREY, scale: SCALE });
    const grey = { ...GREY, data: new Uint8Array(GREY.width * GREY.height) };
    registrar.add(grey, 1);
    expect(() => registrar.add(grey, 1)).toThrow("Frame times must grow: 1 s came after 1 s.");
    expect(() => registrar.add({ data: new Uint8Array(4), width: 2, height: 2 }, 2)).toThrow(
      "The frame is 2 × 2 pixels, but the registrar was made for 480 × 270.",
    );
  });
});
