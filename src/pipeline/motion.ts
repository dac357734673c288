import type { GreyPicture, ImagePoint } from "../ground/types.ts";

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

/** How a place looked against the empty scene. */
export interface PlaceReading {
  /** 0 to 1: share of the place where something hides the ground. */
  covered: number;
  /** 0 to 1: share of what hides it that stands still. */
  still: number;
}

export interface MotionOptions {
  /** Pixels of the strip per metre on the ground near the row. */
  pxPerM: number;
  timesS: number[];
  /** Strips from before these, which help to tell the empty scene. */
  sceneBefore?: GreyPicture[] | undefined;
}

/** Grey levels (of 255) by which a pixel must differ from the empty scene. */
const DIFFERS = 22;
/** Grey levels by which a still pixel may differ from itself a moment earlier or later. */
const STILL = 11;
/** "A moment": long enough for a swinging paw to leave, short against a stance (0.2 s at a trot). */
const MOMENT_S = 0.05;
/** Strips used for the empty scene. */
const SCENE_SAMPLES = 25;
/** Fewer strips show no empty scene. */
const FEWEST_STRIPS = 8;
/** Fewer hidden pixels show no paw. */
const FEWEST_HIDDEN = 4;
/** Half-side of the place about a paw mark that is read, metres. */
const PLACE_M = 0.03;
/** A blob smaller than this share of a paw is noise; one wider than this, metres, is no foot. */
const LEAST_SHARE = 0.25;
const WIDEST_FOOT_M = 0.16;
/** A paw seen from the side covers about this much ground, metres × metres. */
const PAW_AREA_M2 = 0.05 * 0.04;

/**
 * The second witness: needs no network. Against the empty scene (the median over time) all that moves stands
 * out; of that, only a foot in stance stays where it is while the dog goes on.
 *
 * @param strips Equal-sized grey pictures of the ground about the row, from a camera that does not move.
 */
export function readMotion(strips: GreyPicture[], options: MotionOptions) {
  const first = strips[0];
  const { width, height } = first ?? { width: 0, height: 0 };
  const views = [...(options.sceneBefore ?? []), ...strips];
  const scene = views.length >= FEWEST_STRIPS ? emptyScene(views) : null;
  /** State of a pixel of strip s: 0 ground, 1 hidden by something that moves, 2 by something that stands still. */
  const statesOf = (s: number): ((i: number) => number) | null => {
    if (!scene) return null;
    const earlier = neighbour(options.timesS, s, -1);
    const later = neighbour(options.timesS, s, 1);
    const now = strips[s]!.data;
    const before = earlier === null ? null : strips[earlier]!.data;
    const after = later === null ? null : strips[later]!.data;
    return (i) => {
      const v = now[i]!;
      if (Math.abs(v - scene[i]!) <= DIFFERS) return 0;
      const still =
        (before !== null && Math.abs(v - before[i]!) < STILL) ||
        (after !== null && Math.abs(v - after[i]!) < STILL);
      return still ? 2 : 1;
    };
  };

  return {
    /** Still feet of strip s between two of its columns. */
    feet(s: number, fromX = 0, toX = width): StillSighting[] {
      const stateOf = statesOf(s);
      const left = Math.max(0, Math.floor(fromX));
      const wide = Math.min(width, Math.ceil(toX)) - left;
      if (!stateOf || wide <= 0) return [];
      const part = new Uint8Array(wide * height);
      for (let y = 0, i = 0; y < height; y++) {
        for (let x = 0; x < wide; x++, i++) part[i] = stateOf(y * width + left + x);
      }
      return feetIn(part, wide, height, options.pxPerM).map((foot) => ({
        ...foot,
        strip: s,
        x: foot.x + left,
      }));
    },
    /**
     * Share of what hides the ground at a place (strip pixels) of strip s that strip t shows unchanged; 0 where
     * the ground lies bare.
     */
    held(s: number, t: number, at: ImagePoint): number {
      if (!scene) return 0;
      const [here, there] = [strips[s]!.data, strips[t]!.data];
      let hidden = 0;
      let same = 0;
      eachAbout(at, width, height, options.pxPerM, (i) => {
        if (Math.abs(here[i]! - scene[i]!) <= DIFFERS) return;
        hidden++;
        if (Math.abs(there[i]! - here[i]!) < STILL) same++;
      });
      return hidden >= FEWEST_HIDDEN ? same / hidden : 0;
    },
    /** What the places (strip pixels) of strip s show; null where motion cannot tell. */
    places(s: number, places: ImagePoint[]): (PlaceReading | null)[] {
      const stateOf = places.length > 0 ? statesOf(s) : null;
      return places.map((at) => (stateOf ? placeIn(stateOf, at, width, height, options.pxPerM) : null));
    },
  };
}

function placeIn(
  stateOf: (i: number) => number,
  at: ImagePoint,
  width: number,
  height: number,
  pxPerM: number,
): PlaceReading | null {
  let looked = 0;
  let covered = 0;
  let still = 0;
  eachAbout(at, width, height, pxPerM, (i) => {
    const v = stateOf(i);
    looked++;
    if (v > 0) covered++;
    if (v === 2) still++;
  });
  if (looked < 6) return null;
  return { covered: covered / looked, still: covered > 0 ? still / covered : 0 };
}

/** Visits the pixels of the place about a paw mark: more above it than below. */
function eachAbout(
  at: ImagePoint,
  width: number,
  height: number,
  pxPerM: number,
  visit: (index: number) => void,
): void {
  const reach = Math.max(2, PLACE_M * pxPerM);
  for (let y = Math.max(0, Math.round(at.y - reach)); y <= Math.min(height - 1, at.y + 0.5 * reach); y++) {
    for (let x = Math.max(0, Math.round(at.x - reach)); x <= Math.min(width - 1, at.x + reach); x++) {
      visit(y * width + x);
    }
  }
}

/** Blobs of standing pixels with only ground under them. */
function feetIn(
  state: Uint8Array,
  width: number,
  height: number,
  pxPerM: number,
): Omit<StillSighting, "strip">[] {
  const full = PAW_AREA_M2 * pxPerM ** 2;
  const least = Math.max(6, LEAST_SHARE * full);
  const mask = state.map((v) => (v === 2 ? 1 : 0));
  const sightings: Omit<StillSighting, "strip">[] = [];
  for (const blob of blobs(mask, width, height, least)) {
    // Long low blobs are shadows and pole edges; a foot with its pastern is about as high as wide.
    const wide = blob.right - blob.left + 1;
    if (wide > WIDEST_FOOT_M * pxPerM || blob.pixels.length > 4 * full) continue;
    if (hasMoreBelow(blob, state, width, height)) continue;
    const reach = Math.max(2, Math.round(0.03 * pxPerM));
    let sum = 0;
    let count = 0;
    for (const i of blob.pixels) {
      if (Math.floor(i / width) < blob.bottom - reach) continue;
      sum += i % width;
      count++;
    }
    sightings.push({
      x: sum / count + 0.5,
      y: blob.bottom + 1 - 0.01 * pxPerM,
      score: Math.min(1, blob.pixels.length / full),
    });
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
function hasMoreBelow(blob: Blob, state: Uint8Array, width: number, height: number): boolean {
  let covered = 0;
  let looked = 0;
  for (let y = blob.bottom + 3; y <= Math.min(height - 1, blob.bottom + 6); y++) {
    for (let x = blob.left; x <= blob.right; x++) {
      looked++;
      if (state[y * width + x]! > 0) covered++;
    }
  }
  return looked > 0 && covered / looked > 0.4;
}
