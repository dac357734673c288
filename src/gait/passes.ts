import { weightedMedian as median } from "../stats/theil-sen.ts";
import { lineAt } from "./series.ts";
import type { BodyTrack, SetAside } from "./types.ts";

/** The dog's way through one pass, smoothed: where the middle of its body was and how fast it went. */
export interface BodyPath {
  startS: number;
  endS: number;
  direction: 1 | -1;
  speedMps: number;
  accelerationMps2: number;
  /** Median extent of the dog along the row, metres. */
  lengthM: number;
  /** Smoothed ground x of the body's middle at a time within the pass, metres. */
  xAt(timeS: number): number;
}

/** Slower than this the dog stands or dawdles: no landing pattern can be read. Design choice. */
const SLOWEST_MPS = 0.12;
/** A stop shorter than this does not end a pass. Design choice. */
const HESITATION_S = 1.5;
/** The box of a dog breathes by about this much: less is no way gone. Metres. */
const SWAY_M = 0.15;
/** A pass must carry the dog at least this far: about two steps of a small dog. Design choice. */
const SHORTEST_M = 0.6;
/** ... and take at least this long: less holds no two steps even of a small dog. Design choice. */
const BRIEFEST_S = 0.35;
/** A pass that is still under way shows itself sooner: it may yet turn out to be none. */
const UNDER_WAY = 0.5;
/** A body not seen for this long ends a pass. */
const LONGEST_HOLE_S = 0.7;
/** Half-width of the smoothing window: longer than half a step, shorter than a turn. */
const SMOOTH_S = 0.2;

/**
 * Splits the body's track into passes of one direction each; what is no pass is set aside with a reason.
 *
 * @param underWay Whether more of the track is to come: then half a shortest pass is taken for one.
 */
export function splitPasses(
  body: BodyTrack[],
  underWay = false,
): { paths: BodyPath[]; setAside: SetAside[] } {
  const least = underWay ? UNDER_WAY : 1;
  const seen = dropJumps(body.filter((b) => b.score > 0.2).sort((a, b) => a.timeS - b.timeS));
  const paths: BodyPath[] = [];
  const setAside: SetAside[] = [];
  for (const stretch of splitAtHoles(seen)) {
    const smooth = smoothed(stretch);
    const headings = headingsOf(smooth);
    let from = 0;
    while (from < smooth.length) {
      const heading = headings[from]!;
      let to = from + 1;
      while (to < smooth.length && headings[to] === heading) to++;
      const part = smooth.slice(from, to);
      const first = part[0]!;
      const last = part[part.length - 1]!;
      const farEnough = Math.abs(last.xM - first.xM) >= least * SHORTEST_M;
      if (heading !== 0 && farEnough && last.timeS - first.timeS >= least * BRIEFEST_S) {
        paths.push(pathOf(part, heading, stretch));
      } else if (last.timeS - first.timeS > 0.5) {
        setAside.push({
          startS: first.timeS,
          endS: last.timeS,
          reason: heading === 0 ? "The dog stands or hardly moves here." : "Too short a way to be a pass.",
        });
      }
      from = to;
    }
  }
  return { paths: joinStutters(paths), setAside };
}

/** Boxes that leap farther than any dog runs (15 m/s) are somebody else's; drop them. */
function dropJumps(body: BodyTrack[]): BodyTrack[] {
  const kept: BodyTrack[] = [];
  for (let i = 0; i < body.length; i++) {
    const near = body.slice(Math.max(0, i - 4), i + 5);
    const centre = median(near.map((b) => b.xM));
    const span = near[near.length - 1]!.timeS - near[0]!.timeS;
    if (Math.abs(body[i]!.xM - centre) <= 0.25 + 15 * span * 0.5) kept.push(body[i]!);
  }
  return kept;
}

function splitAtHoles(body: BodyTrack[]): BodyTrack[][] {
  const stretches: BodyTrack[][] = [];
  let current: BodyTrack[] = [];
  for (const b of body) {
    const before = current[current.length - 1];
    if (before && b.timeS - before.timeS > LONGEST_HOLE_S) {
      stretches.push(current);
      current = [];
    }
    current.push(b);
  }
  if (current.length > 0) stretches.push(current);
  return stretches.filter((s) => s.length >= 5);
}

interface SmoothPoint {
  timeS: number;
  xM: number;
  slope: number;
}

function smoothed(stretch: BodyTrack[]): SmoothPoint[] {
  let from = 0;
  let to = 0;
  return stretch.map((b) => {
    while (stretch[from]!.timeS < b.timeS - SMOOTH_S) from++;
    while (to < stretch.length && stretch[to]!.timeS <= b.timeS + SMOOTH_S) to++;
    const near = stretch.slice(from, to);
    const centre = median(near.map((n) => n.xM));
    // Weights fall off with time and with distance from the window's own median line.
    const weights = near.map((n) => {
      const dt = (n.timeS - b.timeS) / SMOOTH_S;
      const dx = (n.xM - centre) / 0.5;
      return ((1 - Math.min(1, Math.abs(dt) ** 3)) ** 3 + 1e-3) / (1 + dx * dx);
    });
    const line = lineAt(
      near.map((n) => n.timeS),
      near.map((n) => n.xM),
      weights,
      b.timeS,
    );
    return { timeS: b.timeS, xM: line?.value ?? b.xM, slope: line?.slope ?? 0 };
  });
}

/**
 * Which way the dog goes at each moment. A stop, or a sway of its box against the way, belongs to the way that
 * goes on after it; one at the very end belongs to nothing.
 */
function headingsOf(points: SmoothPoint[]): (1 | 0 | -1)[] {
  const headings = points.map((p): 1 | 0 | -1 =>
    p.slope > SLOWEST_MPS ? 1 : p.slope < -SLOWEST_MPS ? -1 : 0,
  );
  // Runs that carry the dog somewhere; all between two of them of one heading is a hesitation.
  const runs: { from: number; to: number; heading: 1 | -1 }[] = [];
  for (let from = 0; from < headings.length; ) {
    const heading = headings[from]!;
    let to = from;
    while (to < headings.length && headings[to] === heading) to++;
    if (heading !== 0 && Math.abs(points[to - 1]!.xM - points[from]!.xM) >= SWAY_M) {
      runs.push({ from, to, heading });
    }
    from = to;
  }
  runs.forEach((run, i) => {
    const next = runs[i + 1];
    if (!next || next.heading !== run.heading) return;
    const pauseS = points[next.from]!.timeS - points[run.to - 1]!.timeS;
    if (pauseS < HESITATION_S) headings.fill(run.heading, run.to, next.from);
  });
  return headings;
}

function pathOf(points: SmoothPoint[], direction: 1 | -1, stretch: BodyTrack[]): BodyPath {
  const first = points[0]!;
  const last = points[points.length - 1]!;
  const lengths = stretch.filter((b) => b.timeS >= first.timeS && b.timeS <= last.timeS);
  const middle = (first.timeS + last.timeS) / 2;
  const ones = points.map(() => 1);
  const times = points.map((p) => p.timeS);
  const way = lineAt(
    times,
    points.map((p) => p.xM),
    ones,
    middle,
  );
  const rate = lineAt(
    times,
    points.map((p) => p.slope * direction),
    ones,
    middle,
  );
  return {
    startS: first.timeS,
    endS: last.timeS,
    direction,
    speedMps: Math.abs(way?.slope ?? 0),
    accelerationMps2: rate?.slope ?? 0,
    lengthM: median(lengths.map((b) => b.lengthM)),
    xAt: (timeS) => interpolate(points, timeS),
  };
}

function interpolate(points: SmoothPoint[], timeS: number): number {
  const first = points[0]!;
  const last = points[points.length - 1]!;
  if (timeS <= first.timeS) return first.xM + first.slope * (timeS - first.timeS);
  if (timeS >= last.timeS) return last.xM + last.slope * (timeS - last.timeS);
  let low = 0;
  let high = points.length - 1;
  while (high - low > 1) {
    const mid = (low + high) >> 1;
    if (points[mid]!.timeS <= timeS) low = mid;
    else high = mid;
  }
  const a = points[low]!;
  const b = points[high]!;
  return a.xM + ((b.xM - a.xM) * (timeS - a.timeS)) / (b.timeS - a.timeS);
}

/** A hesitation of under half a second does not make two passes of one. */
function joinStutters(paths: BodyPath[]): BodyPath[] {
  const joined: BodyPath[] = [];
  for (const path of paths) {
    const before = joined[joined.length - 1];
    const goesOn =
      before &&
      before.direction === path.direction &&
      path.startS - before.endS < 0.5 &&
      (path.xAt(path.startS) - before.xAt(before.endS)) * path.direction > -0.2;
    if (!before || !goesOn) {
      joined.push(path);
      continue;
    }
    const [a, b] = [before, path];
    const duration = b.endS - a.startS;
    joined[joined.length - 1] = {
      startS: a.startS,
      endS: b.endS,
      direction: a.direction,
      speedMps: Math.abs(b.xAt(b.endS) - a.xAt(a.startS)) / duration,
      accelerationMps2: (b.speedMps - a.speedMps) / (duration / 2),
      lengthM: (a.lengthM + b.lengthM) / 2,
      xAt: (timeS) => (timeS < (a.endS + b.startS) / 2 ? a.xAt(timeS) : b.xAt(timeS)),
    };
  }
  return joined;
}
