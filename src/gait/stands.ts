import { weightedMedian } from "../stats/theil-sen.ts";
import { lineAt } from "./series.ts";

/** A paw-like thing seen in one frame, weighed for one pair of feet (hind or fore). */
export interface WeighedPoint {
  frame: number;
  timeS: number;
  xM: number;
  yM: number;
  /** 0 to 1: score × how likely it belongs to the pair of feet looked for. */
  weight: number;
  /** These three: see PawCandidate. */
  xSeM: number;
  ySeM?: number | undefined;
  xPerY?: number | undefined;
}

/** A place on the ground that was held for a run of frames. */
export interface Stand {
  firstFrame: number;
  lastFrame: number;
  onS: number;
  offS: number;
  xM: number;
  yM: number;
  /** Standard error of xM were it as far away as yM says, and that of yM, metres. */
  xSeM: number;
  ySeM: number;
  /** Change of xM per metre of yM along the line of sight. */
  xPerY: number;
  /** 0 to 1: mean weight over all frames of the run, frames without a sighting counted as 0. */
  strength: number;
  frames: number;
}

export interface StandOptions {
  /** Along the row: how far single frames may lie from the place, metres. */
  reachXM: number;
  /** Across the row, where phone pictures are much less exact, metres. */
  reachYM: number;
  /** Frames without a sighting that do not end a stand, seconds. */
  holeS: number;
  shortestS: number;
  /** Body speed, m/s, and its direction: what drifts along with it is a swinging paw, not a stand. */
  speedMps: number;
  direction: 1 | -1;
}

/** Share of the body's speed at which a "place" counts as drifting along. Design choice. */
const DRIFT_SHARE = 0.3;
/** Usual spread of the looks at one stance, metres, and how many looks that knowledge is worth: on clips with known truth. */
const USUAL_SPREAD_M = 0.0065;
const USUAL_LOOKS = 3;
/** What is taken for the standard error of yM where none is given, metres: of marks half a crop's cell off. */
const USUAL_DEPTH_SE_M = 0.03;
/** Fewer sightings than this are no stand at any frame rate. */
const FEWEST_SIGHTINGS = 3;

/**
 * Finds places held still: a foot in stance is the only part of a walking dog that does not move over the
 * ground. Works like a vote: every sighting proposes its own place; the place with most weight over an unbroken
 * run of frames wins, takes its sightings with it, and the rest vote again.
 */
export function findStands(points: WeighedPoint[], frameTimesS: number[], options: StandOptions): Stand[] {
  const byX = [...points].sort((a, b) => a.xM - b.xM);
  const free = byX.map(() => true);
  const stands: Stand[] = [];
  // What a sighting's own place gathered when last asked. Places only ever lose sightings, so that this is the most
  // it can gather now, and only the best need be asked again.
  const most = byX.map(() => Number.POSITIVE_INFINITY);
  const isNew = byX.map(() => false);
  for (;;) {
    let seed = -1;
    for (let i = 0; i < byX.length; i++) {
      if (free[i] && most[i]! > (seed < 0 ? 0 : most[seed]!)) seed = i;
    }
    if (seed < 0) return stands.sort((a, b) => a.onS - b.onS);
    const { xM, yM, timeS } = byX[seed]!;
    const run = runAround(byX, free, xM, yM, timeS, seed, options);
    if (!run || run.members.length < FEWEST_SIGHTINGS) {
      most[seed] = 0;
      continue;
    }
    if (!isNew[seed]) {
      most[seed] = run.weight;
      isNew[seed] = true;
      continue;
    }
    const settled = settle(byX, free, run, seed, options);
    const stand = settled && standOf(settled, frameTimesS, options);
    if (!settled || !stand) {
      most[seed] = 0;
      continue;
    }
    stands.push(stand);
    takeAway(byX, free, settled, stand, frameTimesS, options);
    isNew.fill(false);
  }
}

interface Run {
  xM: number;
  yM: number;
  members: WeighedPoint[];
  weight: number;
}

function runAround(
  byX: WeighedPoint[],
  free: boolean[],
  xM: number,
  yM: number,
  timeS: number,
  start: number,
  options: StandOptions,
): Run | null {
  const perFrame = new Map<number, WeighedPoint>();
  const look = (i: number) => {
    const p = byX[i]!;
    if (!free[i] || Math.abs(p.yM - yM) > options.reachYM) return;
    const held = perFrame.get(p.frame);
    if (!held || p.weight > held.weight) perFrame.set(p.frame, p);
  };
  for (let i = start; i < byX.length && byX[i]!.xM - xM <= options.reachXM; i++) look(i);
  for (let i = start - 1; i >= 0 && xM - byX[i]!.xM <= options.reachXM; i--) look(i);
  const all = [...perFrame.values()].sort((a, b) => a.frame - b.frame);
  if (all.length === 0) return null;
  let at = 0;
  for (let i = 1; i < all.length; i++) {
    if (Math.abs(all[i]!.timeS - timeS) < Math.abs(all[at]!.timeS - timeS)) at = i;
  }
  let first = at;
  let last = at;
  while (first > 0 && all[first]!.timeS - all[first - 1]!.timeS <= options.holeS) first--;
  while (last + 1 < all.length && all[last + 1]!.timeS - all[last]!.timeS <= options.holeS) last++;
  const members = all.slice(first, last + 1);
  return { xM, yM, members, weight: members.reduce((sum, m) => sum + m.weight, 0) };
}

/** Moves the place to the middle of what it gathered, and gathers again, until it stays. */
function settle(
  byX: WeighedPoint[],
  free: boolean[],
  from: Run,
  seed: number,
  options: StandOptions,
): Run | null {
  let run = from;
  for (let round = 0; round < 4; round++) {
    const weights = run.members.map((m) => m.weight);
    const xM = weightedMedian(
      run.members.map((m) => m.xM),
      weights,
    );
    const yM = weightedMedian(
      run.members.map((m) => m.yM),
      weights,
    );
    const middleS = weightedMedian(
      run.members.map((m) => m.timeS),
      weights,
    );
    let start = seed;
    while (start > 0 && byX[start - 1]!.xM >= xM) start--;
    while (start < byX.length - 1 && byX[start]!.xM < xM) start++;
    const next = runAround(byX, free, xM, yM, middleS, start, options);
    if (!next || next.members.length < FEWEST_SIGHTINGS) return null;
    const same = Math.abs(next.xM - run.xM) < 1e-4 && next.members.length === run.members.length;
    run = next;
    if (same) break;
  }
  return run;
}

function standOf(run: Run, frameTimesS: number[], options: StandOptions): Stand | null {
  const first = run.members[0]!;
  const last = run.members[run.members.length - 1]!;
  const frames = last.frame - first.frame + 1;
  const frameS = frameStep(frameTimesS, first.frame, last.frame);
  if (last.timeS - first.timeS + frameS < options.shortestS) return null;
  const times = run.members.map((m) => m.timeS);
  const xs = run.members.map((m) => m.xM);
  const weights = run.members.map((m) => m.weight);
  const drift = (lineAt(times, xs, weights, first.timeS)?.slope ?? 0) * options.direction;
  if (drift > DRIFT_SHARE * options.speedMps && run.members.length >= 3) return null;
  // The middle of the stance is the stillest: heel strike and roll-off at its ends pull the point about.
  const span = last.timeS - first.timeS;
  const still = run.members.filter(
    (m) => m.timeS >= first.timeS + 0.15 * span && m.timeS <= last.timeS - 0.2 * span,
  );
  const core = still.length >= 3 ? still : run.members;
  // What is known better counts more, down to what is left unknown of any.
  const coreWeights = core.map((m) => m.weight / (m.xSeM ** 2 + USUAL_SPREAD_M ** 2));
  const xM = midmean(
    core.map((m) => m.xM),
    coreWeights,
  );
  const yM = midmean(
    core.map((m) => m.yM),
    coreWeights,
  );
  const total = coreWeights.reduce((a, b) => a + b, 0);
  const squares = core.reduce((sum, m) => sum + m.weight * (m.xM - xM) ** 2, 0) / total;
  const usual = (of: (m: WeighedPoint) => number) => weightedMedian(core.map(of), coreWeights);
  const mapSe = usual((m) => m.xSeM);
  // A place held between two looks is not a fresh one. A few looks show their own spread badly: what is usual counts too.
  const looks = new Set(core.map((m) => m.xM)).size;
  const spread = Math.sqrt((looks * squares + USUAL_LOOKS * USUAL_SPREAD_M ** 2) / (looks + USUAL_LOOKS));
  return {
    firstFrame: first.frame,
    lastFrame: last.frame,
    onS: first.timeS - frameS / 2,
    offS: last.timeS + frameS / 2,
    xM,
    yM,
    xSeM: Math.hypot(mapSe, spread / Math.sqrt(looks)),
    ySeM: usual((m) => m.ySeM ?? USUAL_DEPTH_SE_M),
    xPerY: usual((m) => m.xPerY ?? 0),
    strength: run.weight / frames,
    frames,
  };
}

/**
 * Weighted mean of the middle half: as safe from an odd sighting as the median, and better than it where a stance was
 * looked at only two or three times.
 */
function midmean(values: number[], weights: number[]): number {
  const order = values.map((_, i) => i).sort((a, b) => values[a]! - values[b]!);
  const total = weights.reduce((a, b) => a + b, 0);
  let passed = 0;
  let sum = 0;
  for (const i of order) {
    const from = Math.max(passed, 0.25 * total);
    passed += weights[i]!;
    sum += values[i]! * Math.max(0, Math.min(passed, 0.75 * total) - from);
  }
  return total > 0 ? sum / (0.5 * total) : Number.NaN;
}

function frameStep(frameTimesS: number[], first: number, last: number): number {
  const from = Math.max(0, first - 1);
  const to = Math.min(frameTimesS.length - 1, last + 1);
  return to > from ? (frameTimesS[to]! - frameTimesS[from]!) / (to - from) : 0;
}

/** What a stand has explained cannot vote again, nor can its close echoes in the same frames. */
function takeAway(
  byX: WeighedPoint[],
  free: boolean[],
  run: Run,
  stand: Stand,
  frameTimesS: number[],
  options: StandOptions,
): void {
  const frameS = frameStep(frameTimesS, stand.firstFrame, stand.lastFrame);
  const members = new Set(run.members);
  for (let i = 0; i < byX.length; i++) {
    const p = byX[i]!;
    // The run's own sightings always go: without that the same run could win for ever.
    if (members.has(p)) free[i] = false;
    if (!free[i] || Math.abs(p.xM - stand.xM) > 1.6 * options.reachXM) continue;
    if (Math.abs(p.yM - stand.yM) > 1.6 * options.reachYM) continue;
    if (p.timeS >= stand.onS - 2 * frameS && p.timeS <= stand.offS + 2 * frameS) free[i] = false;
  }
}
