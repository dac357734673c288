import type { GreyPicture } from "../ground/types.ts";

/** Something that stands still on the ground where the empty scene shows nothing: a foot in stance. */
export interface StillSighting {
  /** Index into the strips given. */
  strip: number;
  /** Foot of the thing, pixels of the strip. */
  x: number;
  y: number;
  /** 0 to 1, grows with its size up to that of a paw. */
  score: number;
}

export interface MotionOptions {
  /** Pixels of the strip per metre on the ground near the row. */
  pxPerM: number;
  timesS: number[];
}

/** Grey levels (of 255) by which a pixel must differ from the empty scene. */
const DIFFERS = 22;
/** Grey levels by which a still pixel may differ from itself a moment earlier or later. */
const STILL = 11;
/** "A moment": long enough for a swinging paw to leave, short against a stance (0.2 s at a trot). */
const MOMENT_S = 0.05;
/** Strips used for the empty scene. */
const SCENE_SAMPLES = 25;
/** A paw seen from the side covers about this much ground, metres × metres. */
const PAW_AREA_M2 = 0.05 * 0.04;

/**
 * The second witness: needs no network. Against the empty scene (the median over time) all that moves stands
 * out; of that, only a foot in stance stays where it is while the dog goes on.
 *
 * @param strips Equal-sized grey pictures of the ground about the row, from a camera that does not move.
 */
export function findStillFeet(strips: GreyPicture[], options: MotionOptions): StillSighting[] {
  const first = strips[0];
  if (!first || strips.length < 8) return [];
  const { width, height } = first;
  const scene = emptyScene(strips);
  const sightings: StillSighting[] = [];
  const least = Math.max(4, 0.15 * PAW_AREA_M2 * options.pxPerM ** 2);
  const full = PAW_AREA_M2 * options.pxPerM ** 2;
  const mask = new Uint8Array(width * height);
  for (let s = 0; s < strips.length; s++) {
    const earlier = neighbour(options.timesS, s, -1);
    const later = neighbour(options.timesS, s, 1);
    if (earlier === null && later === null) continue;
    const now = strips[s]!.data;
    const before = earlier === null ? null : strips[earlier]!.data;
    const after = later === null ? null : strips[later]!.data;
    for (let i = 0; i < mask.length; i++) {
      const v = now[i]!;
      const stands =
        Math.abs(v - scene[i]!) > DIFFERS &&
        ((before !== null && Math.abs(v - before[i]!) < STILL) ||
          (after !== null && Math.abs(v - after[i]!) < STILL));
      mask[i] = stands ? 1 : 0;
    }
    for (const blob of blobs(mask, width, height, least)) {
      if (restsOnSomething(blob, now, scene, width, height)) continue;
      const reach = Math.max(2, Math.round(0.03 * options.pxPerM));
      let sum = 0;
      let count = 0;
      for (const i of blob.pixels) {
        if (Math.floor(i / width) < blob.bottom - reach) continue;
        sum += i % width;
        count++;
      }
      sightings.push({
        strip: s,
        x: sum / count + 0.5,
        y: blob.bottom + 1 - 0.01 * options.pxPerM,
        score: Math.min(1, blob.pixels.length / full),
      });
    }
  }
  return sightings;
}

function emptyScene(strips: GreyPicture[]): Uint8Array {
  const count = Math.min(SCENE_SAMPLES, strips.length);
  const chosen = Array.from(
    { length: count },
    (_, k) => strips[Math.floor(((k + 0.5) * strips.length) / count)]!.data,
  );
  const size = chosen[0]!.length;
  const scene = new Uint8Array(size);
  const values = new Uint8Array(count);
  for (let i = 0; i < size; i++) {
    for (let k = 0; k < count; k++) values[k] = chosen[k]![i]!;
    values.sort();
    scene[i] = values[count >> 1]!;
  }
  return scene;
}

function neighbour(timesS: number[], at: number, side: -1 | 1): number | null {
  let i = at;
  while (timesS[i] !== undefined && Math.abs(timesS[i]! - timesS[at]!) < MOMENT_S - 1e-6) i += side;
  const found = timesS[i];
  return found !== undefined && Math.abs(found - timesS[at]!) < 3 * MOMENT_S ? i : null;
}

interface Blob {
  pixels: number[];
  bottom: number;
  left: number;
  right: number;
}

function blobs(mask: Uint8Array, width: number, height: number, least: number): Blob[] {
  const found: Blob[] = [];
  const stack: number[] = [];
  for (let start = 0; start < mask.length; start++) {
    if (mask[start] !== 1) continue;
    const blob: Blob = { pixels: [], bottom: 0, left: width, right: 0 };
    stack.push(start);
    mask[start] = 2;
    while (stack.length > 0) {
      const i = stack.pop()!;
      const x = i % width;
      const y = (i - x) / width;
      blob.pixels.push(i);
      blob.bottom = Math.max(blob.bottom, y);
      blob.left = Math.min(blob.left, x);
      blob.right = Math.max(blob.right, x);
      for (const [dx, dy] of NEIGHBOURS) {
        const nx = x + dx;
        const ny = y + dy;
        if (nx < 0 || ny < 0 || nx >= width || ny >= height) continue;
        const n = ny * width + nx;
        if (mask[n] !== 1) continue;
        mask[n] = 2;
        stack.push(n);
      }
    }
    if (blob.pixels.length >= least) found.push(blob);
  }
  return found;
}

const NEIGHBOURS = [
  [1, 0],
  [-1, 0],
  [0, 1],
  [0, -1],
] as const;

/** A foot has only ground under it; a blob with more of the dog under it is leg or belly. */
function restsOnSomething(
  blob: Blob,
  now: Uint8Array,
  scene: Uint8Array,
  width: number,
  height: number,
): boolean {
  let covered = 0;
  let looked = 0;
  for (let dy = 3; dy <= 6; dy++) {
    const y = blob.bottom + dy;
    if (y >= height) break;
    for (let x = blob.left; x <= blob.right; x++) {
      looked++;
      if (Math.abs(now[y * width + x]! - scene[y * width + x]!) > 2 * DIFFERS) covered++;
    }
  }
  return looked > 0 && covered / looked > 0.5;
}
