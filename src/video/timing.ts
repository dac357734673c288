/** What the presentation times of a clip say about it. */
export interface Timing {
  /** Frames per second over the whole clip; 0 for a single frame. */
  meanFps: number;
  variableRate: boolean;
  warnings: string[];
}

/**
 * Under this a trotting dog's foot is down for too few frames: a stance of about 0.2 s has ten frames at 50 a second.
 * Half a frame less lets rates through that only round to 50. Design choice.
 */
const LEAST_FPS_FOR_TROT = 49.5;
/** Under this even a walk cannot be timed. Design choice. */
const LEAST_FPS = 20;
/** An interval is a skip from this many median intervals, and from this many seconds. Design choice. */
const SKIP_INTERVALS = 2.5;
const SKIP_S = 0.08;

/** @param times Presentation times of all frames, seconds, rising. */
export function describeTiming(times: readonly number[]): Timing {
  const first = times[0];
  const last = times.at(-1);
  if (first === undefined || last === undefined || times.length < 2 || last <= first) {
    return { meanFps: 0, variableRate: false, warnings: [] };
  }
  const intervals = times.slice(1).map((time, index) => time - (times[index] as number));
  const sorted = intervals.toSorted((a, b) => a - b);
  const median = sorted[Math.floor(sorted.length / 2)] as number;
  // Containers round times to a tick (1 ms in WebM), so a quarter must be clearly passed.
  const variableRate = intervals.some((interval) => Math.abs(interval - median) > 0.25 * median + 1e-6);
  const meanFps = (times.length - 1) / (last - first);
  const skipFrom = Math.max(SKIP_INTERVALS * median, SKIP_S);
  const steady = intervals.filter((interval) => interval <= skipFrom);
  const steadyFps = steady.length / steady.reduce((sum, interval) => sum + interval, 0);
  const warnings = [rateWarning(steadyFps), skipWarning(times, intervals, skipFrom)];
  return { meanFps, variableRate, warnings: warnings.filter((sentence) => sentence !== null) };
}

/** The sentence that a low frame rate deserves; null at 50 frames a second and more. */
export function rateWarning(fps: number): string | null {
  if (fps >= LEAST_FPS_FOR_TROT) return null;
  const shown = fps < 10 ? fps.toFixed(1) : fps.toFixed(0);
  return fps < LEAST_FPS
    ? `Only ${shown} frames a second: a foot is on the ground for very few of them. Film again at 60 frames a second or more.`
    : `${shown} frames a second is enough for a walk but coarse for a trot. Film trot work at 60 frames a second or more.`;
}

function skipWarning(times: readonly number[], intervals: number[], skipFrom: number): string | null {
  const skips = intervals.flatMap((interval, index) => (interval > skipFrom ? [index] : []));
  const worst = skips.reduce<number | null>(
    (best, index) =>
      best === null || (intervals[index] as number) > (intervals[best] as number) ? index : best,
    null,
  );
  if (worst === null) return null;
  const from = (times[worst] as number).toFixed(2);
  const to = (times[worst + 1] as number).toFixed(2);
  return skips.length === 1
    ? `The recording skips from ${from} s to ${to} s: a landing in between is not seen.`
    : `The recording skips ${skips.length} times, the longest from ${from} s to ${to} s: landings in between are not seen.`;
}

/** A picture that differs less than this share of a usual step repeats the one before. Design choice. */
const REPEAT_SHARE = 0.2;
/** Longest run that counts as a rhythm: a scene that stands still for a while is none. */
const LONGEST_RHYTHM = 6;

/**
 * Reads repeated pictures from a trial stretch: the true rate when pictures repeat in a rhythm (a recording of 30 a
 * second stretched to 60 shows each twice), null when they do not or when too little moves to tell.
 *
 * @param differences For each frame but the first of the stretch: how far its picture differs from the one before.
 */
export function realRate(differences: readonly number[], fps: number): number | null {
  const sorted = differences.toSorted((a, b) => b - a);
  const usual = sorted[Math.floor(sorted.length / 4)] ?? 0;
  const fresh = differences.flatMap((value, index) => (value > REPEAT_SHARE * usual ? [index] : []));
  if (fresh.length < 5) return null;
  const gaps = fresh.slice(1).map((index, k) => index - (fresh[k] as number));
  const repeats = gaps.filter((gap) => gap > 1).length;
  if (repeats < 0.15 * gaps.length || Math.max(...gaps) > LONGEST_RHYTHM) return null;
  return (fps * gaps.length) / gaps.reduce((sum, gap) => sum + gap, 0);
}

/** Index of the time nearest to `timeS` in rising times; −1 when there are none. */
export function nearestIndex(times: readonly number[], timeS: number): number {
  const after = firstAtOrAfter(times, timeS);
  if (after === 0) return times.length > 0 ? 0 : -1;
  if (after === times.length) return times.length - 1;
  return timeS - (times[after - 1] as number) <= (times[after] as number) - timeS ? after - 1 : after;
}

/** Index of the frame on show at `timeS`: the last one at or before it, or the first of all. */
export function shownIndex(times: readonly number[], timeS: number): number {
  return Math.max(0, firstAtOrAfter(times, timeS + TIME_TOLERANCE_S) - 1);
}

/** Half a microsecond: times that differ by less are the same. */
export const TIME_TOLERANCE_S = 5e-7;

/** Index of the first time at or after `timeS`; the length when there is none. */
export function firstAtOrAfter(times: readonly number[], timeS: number): number {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((times[middle] as number) < timeS) low = middle + 1;
    else high = middle;
  }
  return low;
}
