import { studentQuantile } from "../stats/distributions.ts";
import { thresholds } from "./thresholds.ts";
import type { VerdictKind } from "./types.ts";

/** What the verdict turns on: the step against the spacing, and how sure. */
export interface StepAgainstSpacing {
  /** (step − spacing)/step: positive = poles too close, negative = too far apart. */
  mismatch: number;
  se: number;
  df: number;
  /** Spread of single steps as a share of the step; null where too few. */
  stepCv: number | null;
  /** Single steps behind it. */
  steps: number;
  /** Spacing (between landing targets), metres. */
  pitchM: number;
  /** Hind landings expected in each gap. */
  perGap: 1 | 2;
}

type Read = Extract<
  VerdictKind,
  "fits" | "too-close" | "too-far" | "two-steps" | "stepped-over" | "cannot-tell"
>;

/** The rule for one hind landing to a gap. */
export function decideOnePerGap(m: StepAgainstSpacing): Read {
  const perGap = 1 - m.mismatch;
  const sideSure = isSideSure(m);
  if (perGap >= thresholds.twoStepsPerGap && sideSure) return "two-steps";
  if (perGap <= thresholds.steppedOverPerGap && sideSure) return "stepped-over";
  const tolerance = Math.max(thresholds.fitsWithin, thresholds.fitsWithinM / m.pitchM);
  if (Math.abs(m.mismatch) > tolerance) {
    if (!sideSure) return "cannot-tell";
    return m.mismatch > 0 ? "too-close" : "too-far";
  }
  const reach = studentQuantile(thresholds.fitsLevel, m.df) * m.se;
  return Math.abs(m.mismatch) + reach <= Math.max(thresholds.fitsRulesOut, 2 * tolerance)
    ? "fits"
    : "cannot-tell";
}

/**
 * The rule for all feet in each gap, where every gap is a fresh start: the whole stride must not be longer than the
 * gap, nor the gap leave room for two strides. `mismatch` is that of the step against half the gap.
 */
export function decideAllFeetPerGap(m: StepAgainstSpacing): Read {
  const perGap = 2 * (1 - m.mismatch);
  if (perGap > thresholds.allFeetMostHind) return "too-far";
  if (m.mismatch <= thresholds.fitsWithin) return "fits";
  return isSideSure(m) ? "too-close" : "cannot-tell";
}

function isSideSure({ mismatch, se, df, stepCv, steps }: StepAgainstSpacing): boolean {
  const rough =
    se > thresholds.roughSe || (stepCv ?? 0) > thresholds.roughStepCv || steps < thresholds.roughSteps;
  const level = rough ? thresholds.roughSideLevel : thresholds.sideLevel;
  return Math.abs(mismatch) >= studentQuantile(level, df) * se;
}

/** How many more passes like these would settle it; null when more than anyone should film in one go. */
export function morePasses(
  m: StepAgainstSpacing,
  passes: number,
  decide: (m: StepAgainstSpacing) => Read,
): number | null {
  for (let more = 1; more <= thresholds.mostMorePasses; more++) {
    const factor = (passes + more) / passes;
    const then = {
      ...m,
      se: m.se / Math.sqrt(factor),
      df: Math.round(m.df * factor),
      steps: m.steps * factor,
    };
    if (decide(then) !== "cannot-tell") return more;
  }
  return null;
}
