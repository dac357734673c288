import type { Matrix3 } from "../stats/types.ts";
import type { Box } from "./flow.ts";
import { inside } from "./flow.ts";
import { applyHomography, IDENTITY, invert3 } from "./homography.ts";
import { groundToImage } from "./map.ts";
import { median } from "./patches.ts";
import { type Picture, sampleAt } from "./picture.ts";
import type { GreyPicture, GroundMap } from "./types.ts";

/** A pole that lay elsewhere after a pass than before it. */
export interface Knock {
  passId: string;
  pole: number;
  /** First time at which the pole was seen in its new place, seconds; it was touched shortly before. */
  timeS: number;
  /** How far its middle moved along the row, metres; null where it left the strip that is watched. */
  shiftM: number | null;
}

export interface PoleWatchOptions {
  map: GroundMap;
  /** Full-size pixels per grey pixel. */
  scale: number;
  /** Height at which the poles lie, metres (their taps' height). */
  poleHeightM?: number | undefined;
  /** Shortest time between two looks, seconds; 0.1 unless given. */
  everyS?: number | undefined;
}

export interface PoleWatch {
  /**
   * Looks at the poles in a frame.
   * @param frameToReference on full-size pixels; left out for a still camera.
   * @param avoid boxes of grey pixels with the dog or a person in them.
   */
  add(grey: GreyPicture, timeS: number, frameToReference?: Matrix3, avoid?: readonly Box[]): void;
  /** The poles that moved, pass by pass. */
  findKnocks(passes: readonly { id: string; startS: number; endS: number }[]): Knock[];
}

/** Points along a pole at which it is looked at, and samples across it at each. */
const STATIONS = 9;
const SAMPLES = 41;
/** Half the width of the watched strip: this share of the smaller neighbouring gap, and at most so much. */
const STRIP_SHARE = 0.4;
const WIDEST_STRIP_M = 0.15;
/** How long before and after a pass the poles are looked at. */
const REST_S = 1.5;
const FEWEST_LOOKS = 3;
/** A smaller shift than this is no knock, metres. */
const SMALLEST_SHIFT_M = 0.01;
/** Two profiles show the same thing when they correlate so well, and their contrasts differ less than this. */
const ALIKE = 0.7;
const SAME_CONTRAST = 0.4;

interface Look {
  timeS: number;
  /** By pole and station: the profile across, or null where it was hidden or out of the picture. */
  profiles: (Float32Array | null)[][];
}

/**
 * Watches strips of ground across the poles. A pole is knocked when the profile after a pass fits the one before
 * it only when shifted, at most of the points along the pole that can be seen both times.
 */
export function createPoleWatch(options: PoleWatchOptions): PoleWatch {
  const { map, scale } = options;
  const everyS = options.everyS ?? 0.1;
  const reach = map.poleXM.map((x, k) => {
    const gaps = [
      x - (map.poleXM[k - 1] ?? Number.NEGATIVE_INFINITY),
      (map.poleXM[k + 1] ?? Number.POSITIVE_INFINITY) - x,
    ];
    return Math.min(WIDEST_STRIP_M, STRIP_SHARE * Math.min(...gaps));
  });
  const looks: Look[] = [];

  return {
    add(grey, timeS, frameToReference = IDENTITY, avoid = []) {
      const last = looks.at(-1);
      if (last && timeS - last.timeS < everyS - 1e-6) return;
      const referenceToFrame = invert3(frameToReference);
      const picture: Picture = { ...grey, channels: 1 };
      const profiles = map.poleXM.map((x, pole) =>
        Array.from({ length: STATIONS }, (_, station) => {
          const yM = (map.poleLengthM * (station + 1)) / (STATIONS + 1);
          const profile = new Float32Array(SAMPLES);
          for (let k = 0; k < SAMPLES; k++) {
            const xM = x + reach[pole]! * ((2 * k) / (SAMPLES - 1) - 1);
            const full = applyHomography(
              referenceToFrame,
              groundToImage(map, { xM, yM }, options.poleHeightM ?? 0),
            );
            const p = { x: full.x / scale - 0.5, y: full.y / scale - 0.5 };
            if (!(p.x >= 1 && p.y >= 1 && p.x <= grey.width - 2 && p.y <= grey.height - 2)) return null;
            if (avoid.some((box) => inside(box, p))) return null;
            profile[k] = sampleAt(picture, p.x, p.y);
          }
          return profile;
        }),
      );
      looks.push({ timeS, profiles });
    },

    findKnocks(passes) {
      return passes.flatMap((pass) =>
        map.poleXM.flatMap((_, pole): Knock[] => {
          const before = restingProfiles(looks, pole, pass.startS - REST_S, pass.startS);
          const after = restingProfiles(looks, pole, pass.endS, pass.endS + REST_S);
          const moved = movement(before, after, reach[pole]!);
          if (!moved) return [];
          const during = looks.filter((l) => l.timeS > pass.startS && l.timeS <= pass.endS + REST_S);
          const timeS = firstInNewPlace(during, pole, before, after) ?? pass.endS;
          return [{ passId: pass.id, pole, timeS, shiftM: moved.shiftM }];
        }),
      );
    },
  };
}

/** Median profile by station of the looks in a stretch of time; null where something came and went meanwhile. */
function restingProfiles(
  looks: readonly Look[],
  pole: number,
  fromS: number,
  toS: number,
): (Float32Array | null)[] {
  const within = looks.filter((l) => l.timeS >= fromS && l.timeS <= toS);
  return Array.from({ length: STATIONS }, (_, station) => {
    const seen = within.flatMap((l) => l.profiles[pole]?.[station] ?? []);
    if (seen.length < FEWEST_LOOKS) return null;
    const profile = Float32Array.from({ length: SAMPLES }, (_, k) => median(seen.map((p) => p[k]!)));
    return median(seen.map((p) => correlation(p, profile))) > ALIKE ? profile : null;
  });
}

function movement(
  before: readonly (Float32Array | null)[],
  after: readonly (Float32Array | null)[],
  reachM: number,
): { shiftM: number | null } | null {
  const pairs = before.flatMap((b, k) => (b && after[k] ? [bestShift(b, after[k])] : []));
  if (pairs.length < 3) return null;
  const perSample = (2 * reachM) / (SAMPLES - 1);
  const found = pairs.filter((p) => p.correlation > ALIKE);
  const unmoved = pairs.filter((p) => p.atRest > ALIKE && Math.abs(p.shift) * perSample < SMALLEST_SHIFT_M);
  if (unmoved.length >= pairs.length / 2) return null;
  if (found.length >= pairs.length / 2) {
    const shiftM = median(found.map((p) => p.shift)) * perSample;
    const largest = Math.max(...found.map((p) => Math.abs(p.shift))) * perSample;
    // A pole turned about its middle moves at both ends only.
    if (Math.abs(shiftM) < SMALLEST_SHIFT_M && largest < 2 * SMALLEST_SHIFT_M) return null;
    return { shiftM };
  }
  // The pole is gone from the strip: what was there before is nowhere in it now.
  const gone = pairs.filter((p) => p.atRest < 0.4 && p.correlation < ALIKE);
  return gone.length > pairs.length / 2 ? { shiftM: null } : null;
}

/** The shift (in samples, below a sample) at which `after` looks most like `before`, and how like it is unshifted. */
function bestShift(before: Float32Array, after: Float32Array) {
  const widest = Math.floor(SAMPLES * 0.4);
  const at = (shift: number) => {
    const [from, to] = [Math.max(0, shift), Math.min(SAMPLES, SAMPLES + shift)];
    return correlation(before.subarray(from - shift, to - shift), after.subarray(from, to));
  };
  let best = 0;
  for (let shift = -widest; shift <= widest; shift++) if (at(shift) > at(best)) best = shift;
  const [left, peak, right] = [at(best - 1), at(best), at(best + 1)];
  const bend = left - 2 * peak + right;
  const fine = bend < 0 && Math.abs(best) < widest ? (0.5 * (left - right)) / bend : 0;
  return { shift: best + fine, correlation: peak, atRest: at(0) };
}

function correlation(a: Float32Array, b: Float32Array): number {
  const n = a.length;
  let [sa, sb, saa, sbb, sab] = [0, 0, 0, 0, 0];
  for (let k = 0; k < n; k++) {
    const [p, q] = [a[k]!, b[k]!];
    sa += p;
    sb += q;
    saa += p * p;
    sbb += q * q;
    sab += p * q;
  }
  const [va, vb] = [saa - (sa * sa) / n, sbb - (sb * sb) / n];
  // A faint pattern of the bare ground is no pole, however much it may look like one.
  if (!(Math.min(va, vb) > SAME_CONTRAST ** 2 * Math.max(va, vb))) return 0;
  return (sab - (sa * sb) / n) / Math.sqrt(va * vb);
}

/** The first look from which on the pole is more like its later self than its earlier one, hidden looks passed over. */
function firstInNewPlace(
  during: readonly Look[],
  pole: number,
  before: readonly (Float32Array | null)[],
  after: readonly (Float32Array | null)[],
): number | null {
  let since: number | null = null;
  for (const look of during) {
    const votes = look.profiles[pole]!.flatMap((profile, k) => {
      const [b, a] = [before[k], after[k]];
      if (!profile || !b || !a) return [];
      const [toBefore, toAfter] = [correlation(profile, b), correlation(profile, a)];
      return Math.max(toBefore, toAfter) > ALIKE ? [toAfter - toBefore] : [];
    });
    if (votes.length < 2) continue;
    if (median(votes) > 0) since ??= look.timeS;
    else since = null;
  }
  return since;
}
