import { type Camera, planeToImage, project } from "../../../src/ground/camera.ts";
import { applyHomography, fitHomography, invert3 } from "../../../src/ground/homography.ts";
import type { ImagePoint } from "../../../src/ground/types.ts";
import { phone } from "../../unit/ground-scene.ts";
import { FULL } from "./cameras.ts";

const BASE = phone({ yawDeg: 10, heightM: 1, distanceM: 3.6, rowMiddleM: 1.25, depthM: 0.5, ...FULL });
const DEGREE = Math.PI / 180;
/** A phone reads a picture from its first row to its last in about this time, seconds (common practice, no source). */
const READOUT_S = 0.016;

/**
 * What following the camera by one homography a frame leaves out, as the largest and the root mean square error along
 * the row in centimetres: rows read one after another while the hand pans at 30° a second and shakes by 0.35° three
 * times a second, and a lens with radial distortion panned by ± 12°. Points of the ground are matched without error.
 */
export function leftOut() {
  const pan = (t: number): Camera => ({
    ...BASE,
    yaw: BASE.yaw + 30 * DEGREE * t + 0.35 * DEGREE * Math.sin(2 * Math.PI * 3 * t),
    pitch: BASE.pitch + 0.25 * DEGREE * Math.sin(2 * Math.PI * 3 * t + 1),
  });
  const rolling = (t: number) => (x: number, y: number) => {
    let p = project(pan(t), x, y, 0);
    // The moment at which a point is read depends on the row in which it is drawn.
    for (let round = 0; p && round < 4; round++)
      p = project(pan(t + READOUT_S * (p.y / FULL.heightPx - 0.5)), x, y, 0);
    return p;
  };
  const bent = (turn: number, radial: number) => (x: number, y: number) =>
    project({ ...BASE, yaw: BASE.yaw + turn, radial }, x, y, 0);
  const frames = Array.from({ length: 21 }, (_, k) => k / 10 - 1);
  const still = (x: number, y: number) => project(BASE, x, y, 0);
  return {
    rollingShutter: errorOver(
      frames.map((t) => rolling(0.35 * t)),
      rolling(0),
      planeOf(rolling(0)),
    ),
    lens2Percent: errorOver(
      frames.map((t) => bent(12 * DEGREE * t, -0.02)),
      bent(0, -0.02),
      planeOf(bent(0, -0.02)),
    ),
    lens5Percent: errorOver(
      frames.map((t) => bent(12 * DEGREE * t, -0.05)),
      bent(0, -0.05),
      planeOf(bent(0, -0.05)),
    ),
    nothing: errorOver(
      frames.map((t) => bent(12 * DEGREE * t, 0)),
      still,
      planeToImage(BASE),
    ),
  };
}

type Draw = (x: number, y: number) => ImagePoint | null;

/** The plane as the marked frame's own picture gives it: best homography over the row. */
function planeOf(draw: Draw) {
  const places = grid(0, 2.5, 0, 0.9);
  return fitHomography(
    places,
    places.map((p) => draw(p.x, p.y)!),
  )!;
}

function errorOver(frames: readonly Draw[], reference: Draw, plane: ReturnType<typeof planeToImage>) {
  const toGround = invert3(plane);
  const errors: number[] = [];
  const background = grid(-1.5, 4, -0.8, 3);
  for (const frame of frames) {
    const pairs = background.flatMap((p) => {
      const [a, b] = [frame(p.x, p.y), reference(p.x, p.y)];
      return a && b && inside(a) && inside(b) ? [[a, b] as const] : [];
    });
    const motion = fitHomography(
      pairs.map(([a]) => a),
      pairs.map(([, b]) => b),
    );
    if (!motion) continue;
    for (const p of grid(0, 2.5, 0.3, 0.6)) {
      const seen = frame(p.x, p.y);
      if (seen && inside(seen))
        errors.push(100 * (applyHomography(toGround, applyHomography(motion, seen)).x - p.x));
    }
  }
  const rms = Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
  return { rmsCm: round(rms), largestCm: round(Math.max(...errors.map(Math.abs))) };
}

const round = (value: number) => Math.round(1000 * value) / 1000;

function inside(p: ImagePoint): boolean {
  return p.x >= 0 && p.y >= 0 && p.x <= FULL.widthPx && p.y <= FULL.heightPx;
}

function grid(fromX: number, toX: number, fromY: number, toY: number): ImagePoint[] {
  return Array.from({ length: 12 * 6 }, (_, k) => ({
    x: fromX + ((toX - fromX) * (k % 12)) / 11,
    y: fromY + ((toY - fromY) * Math.floor(k / 12)) / 5,
  }));
}
