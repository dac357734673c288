import { clusterBootstrap } from "../stats/bootstrap.ts";
import type { Resultant } from "../stats/circular.ts";
import { seededRandom } from "../stats/random.ts";
import type { StepAgainstSpacing } from "./decide.ts";
import { placeOf, type RowReading } from "./row-reading.ts";
import { asksForNewStart, meanPlace } from "./start-place.ts";
import type { VerdictKind } from "./types.ts";

interface Drawn {
  step: number;
  place: Resultant;
}

/**
 * Share of resamples that give this verdict: two-stage bootstrap, passes and then steps within them. Their means are
 * scaled to the standard error of pooled-step.ts, which simulation has checked, so that confidence and interval agree.
 */
export function confidenceIn(
  kind: VerdictKind,
  reading: RowReading,
  against: StepAgainstSpacing,
  decide: (m: StepAgainstSpacing) => VerdictKind,
  resamples: number,
): number {
  const clusters = reading.passes.flatMap((pass, p) => {
    const place = placeOf(pass);
    const steps = reading.pooled.steps[p]!;
    return steps.length > 0 ? [steps.map((step): Drawn => ({ step, place }))] : [];
  });
  const drawn = clusterBootstrap(clusters, summary, resamples, seededRandom(1));
  const centre = drawn.reduce((sum, d) => sum + d.mean, 0) / resamples;
  const variance = drawn.reduce((sum, d) => sum + (d.mean - centre) ** 2, 0) / resamples;
  const scale = variance > 0 ? against.se / Math.sqrt(variance) : 0;
  const judgesStart = against.perGap === 1;
  let same = 0;
  for (const { mean, newStart } of drawn) {
    const said = decide({ ...against, mismatch: against.mismatch + scale * (mean - centre) });
    if ((said === "fits" && judgesStart && newStart ? "fits-move-start" : said) === kind) same++;
  }
  return same / resamples;
}

function summary(passes: readonly (readonly Drawn[])[]): { mean: number; newStart: boolean } {
  let sum = 0;
  let n = 0;
  for (const pass of passes) {
    for (const { step } of pass) sum += step;
    n += pass.length;
  }
  return { mean: sum / n, newStart: asksForNewStart(meanPlace(passes.map((pass) => pass[0]!.place))) };
}
