import type { Matrix3 } from "../stats/types.ts";
import { multiply3, scaledToLast } from "./homography.ts";
import { median } from "./patches.ts";
import { ALIKE, bestShift, type PoleLook, type Profile, shifted, stripReach } from "./pole-looks.ts";
import type { FrameRegistration, GroundMap } from "./types.ts";

/** How the walking chain of registrations stands against the poles themselves. */
export interface Anchored {
  /** Put right along the row where the poles say so; not `ok` where they cannot be found again. */
  registrations: FrameRegistration[];
  /** Largest error along the row that was put right, metres. */
  putRightM: number;
  /** Stretches in which the poles were not where the background says, seconds. */
  doubted: [number, number][];
  /** Whether the poles stand out enough to be doubted by. */
  findable: boolean;
}

/** A pole has been found when at least so many points along it agree. */
const FEWEST_STATIONS = 3;
/** A pole counts as in sight when at least so many can be seen. */
const IN_SIGHT = 5;
/** A row found again after longer than this must lie where it last did, to that many metres. */
const UNBROKEN_S = 0.15;
const LARGEST_JUMP_M = 0.04;
/** A likeness at the very end of the search is that of something half out of the strip; share of its half width. */
const WITHIN_REACH = 0.75;
/** Poles agree on the chain's error within this, metres. */
const AGREE_M = 0.012;
/** An error smaller than this is not worth putting right: the profiles tell no better, metres. */
const WORTH_M = 0.002;
/** Looks over which the error is smoothed. */
const SMOOTHED = 5;
/** Poles that are found in fewer looks than this are too faint to doubt the background by. */
const FOUND_USUALLY = 0.6;
/** A drift is taken to go on for this long where nothing is told of it, seconds. */
const GOES_ON_S = 0.1;
/** Looks on each side of the marked frame that tell whether the poles can be found at all. */
const NEAR_LOOKS = 4;
/** Shortest stretch that is doubted, seconds. */
const DOUBTED_S = 0.35;

/**
 * Checks a moving camera's registrations against the poles, looked at through them, and puts right what the chain has
 * drifted along the row. What a pole looks like is taken from the look nearest to the marked frame that shows it.
 * One pole pushed aside does not count against the others.
 * @param looks through `registrations`, in order of time.
 * @param knownFindable that the poles stand out is known already.
 */
export function anchorToPoles(
  registrations: readonly FrameRegistration[],
  looks: readonly PoleLook[],
  map: GroundMap,
  referenceS: number,
  knownFindable = false,
): Anchored {
  const start = nearestIndex(looks, referenceS);
  if (start < 0) return { registrations: [...registrations], putRightM: 0, doubted: [], findable: false };
  const readings: Reading[] = new Array(looks.length);
  // Each way from the marked frame, so that a pole out of sight there gets its looks where the error is known best.
  for (const way of [1, -1]) {
    const known: (Profile | null)[][] = map.poleXM.map(() => []);
    let errorM = 0;
    let toldS = looks[start]!.timeS;
    for (let i = start; i >= 0 && i < looks.length; i += way) {
      const { timeS } = looks[i]!;
      const read = readLook(looks[i]!, known, stripReach(map));
      // After a while in which the poles were not found, another error is that of the wrong poles: a row repeats itself.
      const elsewhere =
        read.errorM !== null &&
        Math.abs(timeS - toldS) > UNBROKEN_S &&
        Math.abs(read.errorM - errorM) > LARGEST_JUMP_M;
      const reading = elsewhere ? { ...read, found: 0, errorM: null } : read;
      readings[i] = reading;
      errorM = reading.errorM ?? errorM;
      if (reading.errorM !== null || reading.inSight < 2) {
        toldS = timeS;
        learn(looks[i]!, known, errorM, stripReach(map));
      }
    }
  }
  const errors = smoothed(looks, readings, start);
  // Asked near the marked frame, where nothing can have drifted yet, and of the whole clip.
  const near = readings.slice(Math.max(0, start - NEAR_LOOKS), start + NEAR_LOOKS + 1);
  const findable = knownFindable || usuallyFound(near) || usuallyFound(readings);
  const doubted = findable ? doubtedStretches(looks, readings) : [];
  let putRightM = 0;
  const put = registrations.map((r): FrameRegistration => {
    if (doubted.some(([from, to]) => r.timeS >= from && r.timeS <= to)) return { ...r, ok: false };
    const errorM = errorAt(errors, r.timeS);
    if (Math.abs(errorM) < WORTH_M) return r;
    putRightM = Math.max(putRightM, Math.abs(errorM));
    return { ...r, frameToReference: movedAlong(map, r.frameToReference, -errorM) };
  });
  return { registrations: put, putRightM, doubted, findable };
}

function usuallyFound(readings: readonly Reading[]): boolean {
  const told = readings.filter((r) => r.inSight >= 2);
  return told.length > 0 && told.filter((r) => 2 * r.found >= r.inSight).length > FOUND_USUALLY * told.length;
}

interface Reading {
  /** Poles in sight that are known by their looks, and those of them found again. */
  inSight: number;
  found: number;
  /** How far on the row appears; null where too few poles tell or they disagree. */
  errorM: number | null;
}

function readLook(look: PoleLook, known: readonly (Profile | null)[][], reach: readonly number[]): Reading {
  let inSight = 0;
  const shifts: number[] = [];
  look.profiles.forEach((profiles, pole) => {
    const pairs = profiles.flatMap((now, k) => {
      const before = known[pole]![k];
      return now && before ? [bestShift(before, now, reach[pole]!)] : [];
    });
    if (pairs.length < IN_SIGHT) return;
    inSight++;
    const alike = pairs.filter(
      (p) => p.correlation > ALIKE && Math.abs(p.shiftM) < WITHIN_REACH * reach[pole]!,
    );
    if (alike.length >= FEWEST_STATIONS) shifts.push(median(alike.map((p) => p.shiftM)));
  });
  if (shifts.length < 2) return { inSight, found: shifts.length, errorM: null };
  const errorM = median(shifts);
  const agreeing = shifts.filter((s) => Math.abs(s - errorM) < AGREE_M).length;
  return { inSight, found: shifts.length, errorM: agreeing > shifts.length / 2 ? errorM : null };
}

/** Keeps how the stations look that are seen for the first time. */
function learn(look: PoleLook, known: (Profile | null)[][], errorM: number, reach: readonly number[]): void {
  look.profiles.forEach((profiles, pole) => {
    profiles.forEach((profile, k) => {
      if (profile) known[pole]![k] ??= shifted(profile, -errorM, reach[pole]!);
    });
  });
}

function smoothed(looks: readonly PoleLook[], readings: readonly Reading[], start: number) {
  const told = readings.flatMap((r, i) => {
    const { timeS } = looks[i]!;
    // By the marked frame itself everything is measured.
    if (i === start) return [{ timeS, errorM: 0 }];
    return r.errorM === null ? [] : [{ timeS, errorM: r.errorM }];
  });
  return told.map(({ timeS }, i) => {
    // As far one way as the other: a drift that grows steadily is its own middle.
    const half = Math.min(SMOOTHED >> 1, i, told.length - 1 - i);
    return { timeS, errorM: median(told.slice(i - half, i + half + 1).map((t) => t.errorM)) };
  });
}

/** Between what was told; before and after it the drift goes on for as long as from one look to the next. */
function errorAt(errors: readonly { timeS: number; errorM: number }[], timeS: number): number {
  if (errors.length < 2) return errors[0]?.errorM ?? 0;
  const after = errors.findIndex((e) => e.timeS >= timeS);
  const right = after < 0 ? errors.length - 1 : Math.max(1, after);
  const [a, b] = [errors[right - 1]!, errors[right]!];
  const spanS = b.timeS - a.timeS;
  const share = Math.max(-GOES_ON_S / spanS, Math.min(1 + GOES_ON_S / spanS, (timeS - a.timeS) / spanS));
  return a.errorM + (b.errorM - a.errorM) * share;
}

function doubtedStretches(looks: readonly PoleLook[], readings: readonly Reading[]): [number, number][] {
  const stretches: [number, number][] = [];
  let open: [number, number] | null = null;
  readings.forEach((r, i) => {
    const { timeS } = looks[i]!;
    const tells = r.inSight >= 2;
    // Once in doubt, only poles found again take the doubt away.
    if (tells && 2 * r.found > r.inSight) open = null;
    else if (open) open[1] = timeS;
    else if (tells && 2 * r.found < r.inSight) {
      open = [timeS, timeS];
      stretches.push(open);
    }
  });
  return stretches.filter(([from, to]) => to - from >= DOUBTED_S);
}

/** A registration after which everything on the ground lies that much farther along the row. */
function movedAlong(map: GroundMap, frameToReference: Matrix3, byM: number): Matrix3 {
  const along: Matrix3 = [1, 0, byM, 0, 1, 0, 0, 0, 1];
  return scaledToLast(
    multiply3(multiply3(map.groundToImage, along), multiply3(map.imageToGround, frameToReference)),
  );
}

function nearestIndex(looks: readonly PoleLook[], timeS: number): number {
  return looks.reduce(
    (best, look, i) =>
      best < 0 || Math.abs(look.timeS - timeS) < Math.abs(looks[best]!.timeS - timeS) ? i : best,
    -1,
  );
}
