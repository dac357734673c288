import { studentQuantile } from "../stats/distributions.ts";
import { theilSen } from "../stats/theil-sen.ts";
import type { Estimate } from "../stats/types.ts";
import { thresholds } from "./thresholds.ts";

/** Kept landings of one pass: where each is and how many steps it is from the first. */
export interface NumberedFeet {
  at: number[];
  number: number[];
  /** 1, or less for doubtful ones. */
  weight: number[];
  left: boolean[];
  /** Standard error of each place, in the unit of `at`. */
  se: number[];
}

/** A mean and its standard error with the degrees of freedom behind it. */
export interface Mean {
  value: number;
  se: number;
  df: number;
  n: number;
}

export interface PooledStep {
  /** Mean step over passes, in the unit of `at`. */
  mean: Mean;
  /** One a pass, null under three landings; their errors from the pooled scatter. */
  passes: (Mean | null)[];
  /** Spread of single steps as a share of the step, left/right difference taken out; null under four steps. */
  stepCv: number | null;
  /** Spread of whole passes about the mean beyond what single steps explain, as a share. */
  passSd: number;
  /** Step onto the right hind minus step onto the left, in the unit of `at`; null where one side has under `sideSteps` steps. */
  side: Mean | null;
  /** Single steps, one list a pass. */
  steps: number[][];
}

/** Theil–Sen (far pairs weighing more) costs this much variance against the plain mean of a few independent steps
 * (measured, 5 to 7 landings). */
const ROBUST_COST = 1.08;
/** Steps that leap out by more than this many typical spreads count as this many. */
const CLIP = 3.5;

/**
 * Mean step of several passes with a standard error that holds for one to six of them. Each pass gives its Theil–Sen
 * step; passes are averaged by how sure each is. A plain percentile bootstrap holds the truth 85 times in 100 for a
 * single pass and too often for three (see the bench), so the two variances, of steps within and of passes about the
 * mean, are estimated with a little knowledge put in beforehand (thresholds.ts) and the error is Student's with
 * Satterthwaite's degrees of freedom.
 * @param unit size of one step in the unit of `at`, roughly: makes the prior shares into lengths
 * @param speedsMps one a pass: where speeds differ, steps are expected to
 * @returns null when no pass has two landings
 */
export function poolSteps(
  feet: readonly NumberedFeet[],
  unit: number,
  speedsMps: readonly number[],
): PooledStep | null {
  const slopes = feet.map((f) =>
    f.at.length >= 2 && f.number[f.number.length - 1]! > f.number[0]!
      ? theilSen(f.number, f.at, f.weight, 2).slope
      : null,
  );
  const single = feet.map(singleSteps);
  const used = slopes.map((_, p) => p).filter((p) => slopes[p] !== null);
  if (used.length === 0) return null;

  const side = sideDifference(feet, slopes);
  const residuals: number[] = [];
  for (const p of used) {
    for (const s of single[p]!) {
      const expected =
        slopes[p]! + (s.apart % 2 === 1 && side !== null ? (s.ontoLeft ? -side / 2 : side / 2) : 0);
      residuals.push((s.length - expected) * Math.sqrt(s.apart));
    }
  }
  const typical = 1.4826 * medianSize(residuals);
  const bound = CLIP * Math.max(typical, thresholds.priorStepCv * unit);
  let seen = 0;
  for (const r of residuals) seen += Math.min(Math.abs(r), bound) ** 2;
  // Errors of places make single steps look uneven but hardly touch their mean.
  const noise = used.reduce((sum, p) => sum + single[p]!.reduce((s, step) => s + step.noise, 0), 0);
  const squares = seen - Math.min(noise, thresholds.mostNoiseShare * seen);
  const ownDf = Math.max(0, residuals.length - used.length - (side === null ? 0 : 1));
  const priorVariance = (thresholds.priorStepCv * unit) ** 2;
  const prior = thresholds.priorSteps * trust(priorVariance, squares / Math.max(1, ownDf));
  const stepDf = prior + ownDf;
  const stepVariance = (prior * priorVariance + squares) / stepDf;

  const within = used.map((p) => (ROBUST_COST * stepVariance) / stepWeight(feet[p]!));
  const passVariance = spreadOfPasses(
    used.map((p) => slopes[p]!),
    within,
    Math.max(thresholds.priorPassSd, stepSdFromSpeed(speedsMps)) * unit,
  );
  const passDf = thresholds.priorPasses + used.length - 1;
  const weights = within.map((w) => 1 / (w + passVariance));
  const total = weights.reduce((a, b) => a + b, 0);
  let value = 0;
  let fromSteps = 0;
  let fromPasses = 0;
  used.forEach((p, i) => {
    const w = weights[i]! / total;
    value += w * slopes[p]!;
    fromSteps += w * w * within[i]!;
    fromPasses += w * w * passVariance;
  });
  const variance = fromSteps + fromPasses;
  const df = variance ** 2 / (fromSteps ** 2 / stepDf + fromPasses ** 2 / passDf);
  return {
    mean: { value, se: Math.sqrt(variance), df: Math.max(2, Math.round(df)), n: residuals.length },
    passes: slopes.map((slope, p) =>
      slope === null || feet[p]!.at.length < 3
        ? null
        : {
            value: slope,
            se: Math.sqrt((ROBUST_COST * stepVariance) / stepWeight(feet[p]!)),
            df: stepDf,
            n: single[p]!.length,
          },
    ),
    stepCv: ownDf >= 3 ? Math.sqrt(squares / ownDf) / value : null,
    passSd: Math.sqrt(passVariance) / value,
    side: side === null ? null : sideMean(single, side, stepVariance, stepDf),
    steps: single.map((steps) => steps.map((s) => s.length)),
  };
}

/**
 * Spread of whole passes' steps to expect from their speeds, as a share: steps grow with speed to the 0.6 (S/h = 2.3·Fr^0.3,
 * Alexander RMcN. Nature 1976;261:129). What may be the error of the speeds themselves is taken off first.
 */
function stepSdFromSpeed(speedsMps: readonly number[]): number {
  const n = speedsMps.length;
  if (n < 2) return 0;
  const mean = speedsMps.reduce((a, b) => a + b, 0) / n;
  const variance = speedsMps.reduce((sum, v) => sum + (v / mean - 1) ** 2, 0) / (n - 1);
  return 0.6 * Math.sqrt(Math.max(0, variance - thresholds.speedErrorShare ** 2));
}

/** A dog that plainly scatters more than expected is believed: the prior fades as the seen variance outgrows it. */
function trust(expected: number, seen: number): number {
  return Math.min(1, ((1.35 * expected) / seen) ** 2);
}

export function estimateOf(mean: Mean, scale = 1, shift = 0): Estimate {
  const reach = studentQuantile(0.975, mean.df) * mean.se;
  const ends = [(mean.value - reach) * scale + shift, (mean.value + reach) * scale + shift];
  return {
    value: mean.value * scale + shift,
    interval: [Math.min(...ends), Math.max(...ends)],
    n: mean.n,
  };
}

interface SingleStep {
  length: number;
  /** Steps between the two landings: more than one where some went unseen. */
  apart: number;
  ontoLeft: boolean;
  /** Variance that the places' own errors lend to the squared residual. */
  noise: number;
}

function singleSteps(f: NumberedFeet): SingleStep[] {
  const steps: SingleStep[] = [];
  // A pass's labels alternate with its step numbers; a swapped one is outvoted by the rest.
  let votes = 0;
  for (let i = 0; i < f.at.length; i++) {
    votes += f.weight[i]! * (f.left[i] === (f.number[i]! % 2 === 0) ? 1 : -1);
  }
  for (let i = 1; i < f.at.length; i++) {
    const apart = f.number[i]! - f.number[i - 1]!;
    if (apart < 1) continue;
    steps.push({
      length: (f.at[i]! - f.at[i - 1]!) / apart,
      apart,
      ontoLeft: (f.number[i]! % 2 === 0) === votes >= 0,
      noise: (f.se[i]! ** 2 + f.se[i - 1]! ** 2) / apart,
    });
  }
  return steps;
}

/** Doubtful landings lend their steps less weight. */
function stepWeight(f: NumberedFeet): number {
  const mean = f.weight.reduce((a, b) => a + b, 0) / f.weight.length;
  return (f.number[f.number.length - 1]! - f.number[0]!) * mean;
}

/** Mean step onto the right minus mean step onto the left, each measured from its own pass's step. */
function sideDifference(feet: readonly NumberedFeet[], slopes: readonly (number | null)[]): number | null {
  let left = 0;
  let lefts = 0;
  let right = 0;
  let rights = 0;
  feet.forEach((f, p) => {
    const slope = slopes[p];
    if (slope === null || slope === undefined) return;
    for (const s of singleSteps(f)) {
      if (s.apart !== 1) continue;
      if (s.ontoLeft) {
        left += s.length - slope;
        lefts++;
      } else {
        right += s.length - slope;
        rights++;
      }
    }
  });
  return lefts >= thresholds.sideSteps && rights >= thresholds.sideSteps
    ? right / rights - left / lefts
    : null;
}

/**
 * A landing's own error lengthens one step and shortens the next, so it enters the difference of sides twice: beside the
 * variance of independent steps stands 1/left + 1/right squared for each landing's error.
 */
function sideMean(single: readonly SingleStep[][], value: number, stepVariance: number, df: number): Mean {
  const ones = single.flat().filter((s) => s.apart === 1);
  const lefts = ones.filter((s) => s.ontoLeft).length;
  const rights = ones.length - lefts;
  const share = 1 / lefts + 1 / rights;
  const noise = ones.reduce((sum, s) => sum + s.noise, 0) / 2;
  return { value, se: Math.sqrt(stepVariance * share + noise * share ** 2), df, n: ones.length };
}

/** Variance of passes about their mean beyond that within passes, with the prior's passes counted in. */
function spreadOfPasses(slopes: readonly number[], within: readonly number[], priorSd: number): number {
  const mean = slopes.reduce((a, b) => a + b, 0) / slopes.length;
  const seen = slopes.reduce((sum, s) => sum + (s - mean) ** 2, 0);
  const explained = within.reduce((a, b) => a + b, 0) * (1 - 1 / slopes.length);
  const variance =
    (thresholds.priorPasses * priorSd ** 2 + seen - explained) / (thresholds.priorPasses + slopes.length - 1);
  return Math.max((priorSd / 3) ** 2, variance);
}

function medianSize(values: readonly number[]): number {
  const sizes = values.map(Math.abs).sort((a, b) => a - b);
  return sizes.length === 0 ? 0 : sizes[Math.floor(sizes.length / 2)]!;
}
