import { axesOf, type Camera } from "../../src/ground/camera.ts";
import type { GreyPicture } from "../../src/ground/types.ts";

/** Repeatable random numbers in [0, 1) (mulberry32, public domain). */
export function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Normal deviates by the polar method of Box and Muller. */
export function normalFrom(random: () => number): () => number {
  return () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

const SIDE = 512;

/** A square of grey noise with detail at all sizes that repeats without a seam, in five halvings. */
export function noiseTile(seed: number, mean = 120, contrast = 55): Float32Array[] {
  const random = randomFrom(seed);
  const tile = new Float32Array(SIDE * SIDE).fill(mean);
  for (let cells = 4, weight = 0.5; cells <= SIDE; cells *= 2, weight *= 0.75) {
    const grid = Float32Array.from({ length: cells * cells }, () => random() * 2 - 1);
    const step = SIDE / cells;
    for (let y = 0; y < SIDE; y++)
      for (let x = 0; x < SIDE; x++) {
        const [gx, gy] = [x / step, y / step];
        const [ix, iy] = [Math.floor(gx), Math.floor(gy)];
        const [fx, fy] = [gx - ix, gy - iy];
        const at = (i: number, j: number) => grid[(j % cells) * cells + (i % cells)]!;
        const top = at(ix, iy) * (1 - fx) + at(ix + 1, iy) * fx;
        const bottom = at(ix, iy + 1) * (1 - fx) + at(ix + 1, iy + 1) * fx;
        tile[y * SIDE + x]! += contrast * weight * (top * (1 - fy) + bottom * fy);
      }
  }
  const levels = [tile];
  for (let side = SIDE / 2; side >= 32; side /= 2) {
    const finer = levels.at(-1)!;
    const coarse = new Float32Array(side * side);
    for (let y = 0; y < side; y++)
      for (let x = 0; x < side; x++) {
        const at = 4 * side * y + 2 * x;
        coarse[y * side + x] =
          (finer[at]! + finer[at + 1]! + finer[at + 2 * side]! + finer[at + 2 * side + 1]!) / 4;
      }
    levels.push(coarse);
  }
  return levels;
}

function sample(levels: readonly Float32Array[], u: number, v: number, texelsPerPixel: number): number {
  const level = Math.max(0, Math.min(levels.length - 1, Math.round(Math.log2(Math.max(1, texelsPerPixel)))));
  const side = SIDE >> level;
  const wrapped = (t: number) => ((t % 1) + 1) % 1;
  const [x, y] = [wrapped(u) * side, wrapped(v) * side];
  const [ix, iy] = [Math.floor(x), Math.floor(y)];
  const [fx, fy] = [x - ix, y - iy];
  const data = levels[level]!;
  const at = (i: number, j: number) => data[(j % side) * side + (i % side)]!;
  return (
    (at(ix, iy) * (1 - fx) + at(ix + 1, iy) * fx) * (1 - fy) +
    (at(ix, iy + 1) * (1 - fx) + at(ix + 1, iy + 1) * fx) * fy
  );
}

export interface Scene {
  ground: Float32Array[];
  wall: Float32Array[];
  /** How far behind the near pole ends the wall stands, metres. */
  wallM: number;
  /** x of each pole, and where it lies askew of that at its far end; metres. */
  poles: { xM: number; turnM?: number | undefined }[];
  poleLengthM: number;
  poleWidthM: number;
  /** An upright ellipse that hides what is behind it (a dog), standing on the row's middle. */
  dog?: { xM: number; lengthM: number; heightM: number } | undefined;
}

const TILE_M = 3;

/** What the camera sees, grey, with noise of `noiseSd` grey levels. Pixels are sampled 2 × 2. */
export function render(
  camera: Camera,
  widthPx: number,
  heightPx: number,
  fullWidthPx: number,
  scene: Scene,
  noise: () => number,
  noiseSd = 2,
): GreyPicture {
  const data = new Uint8Array(widthPx * heightPx);
  const scale = fullWidthPx / widthPx;
  const a = axesOf(camera);
  const dogY = scene.poleLengthM / 2;
  for (let py = 0; py < heightPx; py++)
    for (let px = 0; px < widthPx; px++) {
      let sum = 0;
      for (let s = 0; s < 4; s++) {
        const u = ((px + 0.25 + 0.5 * (s & 1)) * scale - camera.centreX) / camera.focalPx;
        const v = ((py + 0.25 + 0.5 * (s >> 1)) * scale - camera.centreY) / camera.focalPx;
        const dx = a[0] * u + a[3] * v + a[6];
        const dy = a[1] * u + a[4] * v + a[7];
        const dz = a[2] * u + a[5] * v + a[8];
        const toWall = (scene.wallM - camera.y) / dy;
        const toGround = dz < 0 ? -camera.height / dz : Number.POSITIVE_INFINITY;
        const reach = Math.min(toWall, toGround);
        if (scene.dog) {
          const t = (dogY - camera.y) / dy;
          const ex = (camera.x + t * dx - scene.dog.xM) / (scene.dog.lengthM / 2);
          const ez = (camera.height + t * dz) / scene.dog.heightM - 0.5;
          if (t > 0 && t < reach && ex * ex + 4 * ez * ez < 1) {
            sum += 60 + 30 * Math.sin(25 * ex) * Math.sin(31 * ez);
            continue;
          }
        }
        const perPixel = (reach * scale * SIDE) / (camera.focalPx * TILE_M);
        if (toGround < toWall) {
          const [gx, gy] = [camera.x + reach * dx, camera.y + reach * dy];
          const onPole =
            gy > 0 &&
            gy < scene.poleLengthM &&
            scene.poles.some(
              (p) => Math.abs(gx - p.xM - ((p.turnM ?? 0) * gy) / scene.poleLengthM) < scene.poleWidthM / 2,
            );
          sum += onPole ? 225 : sample(scene.ground, gx / TILE_M, gy / TILE_M, perPixel);
        } else
          sum += sample(
            scene.wall,
            (camera.x + reach * dx) / TILE_M,
            (camera.height + reach * dz) / TILE_M,
            perPixel,
          );
      }
      data[py * widthPx + px] = Math.max(0, Math.min(255, Math.round(sum / 4 + noiseSd * noise())));
    }
  return { data, width: widthPx, height: heightPx };
}

/** A phone at `distanceM` from the row's middle, turned `yawDeg` off square but with the row's middle in the picture. */
export function phone(of: {
  yawDeg: number;
  heightM: number;
  distanceM: number;
  rowMiddleM: number;
  depthM: number;
  widthPx: number;
  heightPx: number;
  focalPx?: number | undefined;
  rollDeg?: number | undefined;
}): Camera {
  const yaw = (of.yawDeg * Math.PI) / 180;
  return {
    focalPx: of.focalPx ?? 0.85 * of.widthPx,
    centreX: of.widthPx / 2,
    centreY: of.heightPx / 2,
    yaw,
    // Looks at a point a little above the ground in the row's middle, as one who films a dog does.
    pitch: Math.atan2(of.heightM - 0.25, of.distanceM),
    roll: ((of.rollDeg ?? 0) * Math.PI) / 180,
    x: of.rowMiddleM - of.distanceM * Math.sin(yaw),
    y: of.depthM - of.distanceM * Math.cos(yaw),
    height: of.heightM,
    radial: 0,
  };
}
