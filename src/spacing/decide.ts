import { studentQuantile } from "../stats/distributions.ts";
import { thresholds } from "./thresholds.ts";
import type { VerdictKind } from "./types.ts";

/** What the verdict turns on: the step against the spacing, and how sure. */
export interface StepAgainstSpacing {
  /** (step − spacing)/spacing: positive = the step is the longer one. */
  mismatch: number;
  se: number;
  df: number;
  /** Spacing (between landing targets), metres. */
  pitchM: number;
}

type Read = Extract<
  VerdictKind,
  "fits" | "too-close" | "too-far" | "two-steps" | "stepped-over" | "cannot-tell"
>;

/** The rule for one hind landing to a gap. */
export function decideOnePerGap(m: StepAgainstSpacing): Read {
  const perGap = 1 / (1 + m.mismatch);
  const sideSure = Math.abs(m.mismatch) >= studentQuantile(thresholds.sideLevel, m.df) * m.se;
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
  const perGap = 2 / (1 + m.mismatch);
  if (perGap > thresholds.allFeetMostHind) return "too-far";
  if (m.mismatch <= thresholds.fitsWithin) return "fits";
  return m.mismatch >= studentQuantile(thresholds.sideLevel, m.df) * m.se ? "too-close" : "cannot-tell";
}

/** How many more passes like these would settle it; null when more than anyone should film in one go. */
export function morePasses(
  m: StepAgainstSpacing,
  passes: number,
  decide: (m: StepAgainstSpacing) => Read,
): number | null {
  for (let more = 1; more <= thresholds.mostMorePasses; more++) {
    const factor = (passes + more) / passes;
    const then = { ...m, se: m.se / Math.sqrt(factor), df: Math.round(m.df * factor) };
    if (decide(then) !== "cannot-tell") return more;
  }
  return null;
}
