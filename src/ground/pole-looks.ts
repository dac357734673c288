import type { Matrix3 } from "../stats/types.ts";
import { type Box, inside } from "./flow.ts";
import { applyHomography, IDENTITY, invert3 } from "./homography.ts";
import { groundToImage } from "./map.ts";
import { median } from "./patches.ts";
import { type Picture, sampleAt } from "./picture.ts";
import type { GreyPicture, GroundMap } from "./types.ts";

/** Points along a pole at which it is looked at, and samples across it at each. */
export const STATIONS = 9;
const SAMPLES = 41;
/** Half the width of the watched strip: this share of the smaller neighbouring gap, and at most so much. */
const STRIP_SHARE = 0.4;
const WIDEST_STRIP_M = 0.15;
/** Two profiles show the same thing when they correlate so well, and their contrasts differ less than this. */
export const ALIKE = 0.7;
const SAME_CONTRAST = 0.4;

/** Grey levels across a pole at one station, from −reach to +reach along the row about the pole's marked place. */
export type Profile = Float32Array;

/** How the strips of ground across the poles looked in one frame. */
export interface PoleLook {
  timeS: number;
  /** By pole and station; null where it was hidden or out of the picture. */
  profiles: (Profile | null)[][];
}

/** Half the width of the strip watched across each pole, metres. */
export function stripReach(map: GroundMap): number[] {
  return map.poleXM.map((x, k) => {
    const gaps = [
      x - (map.poleXM[k - 1] ?? Number.NEGATIVE_INFINITY),
      (map.poleXM[k + 1] ?? Number.POSITIVE_INFINITY) - x,
    ];
    return Math.min(WIDEST_STRIP_M, STRIP_SHARE * Math.min(...gaps));
  });
}

export interface LookOptions {
  map: GroundMap;
  /** Full-size pixels per grey pixel. */
  scale: number;
  /** Height at which the poles lie, metres (their taps' height). */
  poleHeightM?: number | undefined;
}

/**
 * Looks at the poles in a frame.
 * @param frameToReference on full-size pixels; left out for a still camera.
 * @param avoid boxes of grey pixels with the dog or a person in them.
 */
export function lookAtPoles(
  { map, scale, poleHeightM = 0 }: LookOptions,
  grey: GreyPicture,
  timeS: number,
  frameToReference: Matrix3 = IDENTITY,
  avoid: readonly Box[] = [],
): PoleLook {
  const reach = stripReach(map);
  const referenceToFrame = invert3(frameToReference);
  const picture: Picture = { ...grey, channels: 1 };
  const profileAt = (xM: number, yM: number, reachM: number): Profile | null => {
    const profile = new Float32Array(SAMPLES);
    for (let k = 0; k < SAMPLES; k++) {
      const ground = { xM: xM + reachM * ((2 * k) / (SAMPLES - 1) - 1), yM };
      const full = applyHomography(referenceToFrame, groundToImage(map, ground, poleHeightM));
      const p = { x: full.x / scale - 0.5, y: full.y / scale - 0.5 };
      if (!(p.x >= 1 && p.y >= 1 && p.x <= grey.width - 2 && p.y <= grey.height - 2)) return null;
      if (avoid.some((box) => inside(box, p))) return null;
      profile[k] = sampleAt(picture, p.x, p.y);
    }
    return profile;
  };
  return {
    timeS,
    profiles: map.poleXM.map((xM, pole) =>
      Array.from({ length: STATIONS }, (_, station) =>
        profileAt(xM, (map.poleLengthM * (station + 1)) / (STATIONS + 1), reach[pole]!),
      ),
    ),
  };
}

/** Median profile by station of some looks; null where too few saw it, or where something came and went. */
export function restingProfiles(looks: readonly PoleLook[], pole: number, fewest = 3): (Profile | null)[] {
  return Array.from({ length: STATIONS }, (_, station) => {
    const seen = looks.flatMap((l) => l.profiles[pole]?.[station] ?? []);
    if (seen.length < fewest) return null;
    const profile = Float32Array.from({ length: SAMPLES }, (_, k) => median(seen.map((p) => p[k]!)));
    return median(seen.map((p) => correlation(p, profile))) > ALIKE ? profile : null;
  });
}

export interface ProfileShift {
  /** Metres along the row by which the later profile lies farther on. */
  shiftM: number;
  /** How alike they are when so shifted, and when not shifted at all; −1 to 1. */
  correlation: number;
  atRest: number;
}

/** The shift, below a sample, at which `after` looks most like `before`. */
export function bestShift(before: Profile, after: Profile, reachM: number): ProfileShift {
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
  return { shiftM: ((best + fine) * 2 * reachM) / (SAMPLES - 1), correlation: peak, atRest: at(0) };
}

/** A profile as it would look if what it shows lay that much farther on; its edges are repeated. */
export function shifted(profile: Profile, byM: number, reachM: number): Profile {
  const by = (byM * (SAMPLES - 1)) / (2 * reachM);
  return Float32Array.from({ length: SAMPLES }, (_, k) => {
    const at = Math.max(0, Math.min(SAMPLES - 1.001, k - by));
    const whole = Math.floor(at);
    return profile[whole]! + (at - whole) * (profile[whole + 1]! - profile[whole]!);
  });
}

export function correlation(a: Profile, b: Profile): number {
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
