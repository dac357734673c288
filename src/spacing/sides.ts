import { minimalDetectableChange } from "../stats/reliability.ts";
import { estimateOf, type PooledStep } from "./pooled-step.ts";
import type { Judgement } from "./types.ts";

/**
 * Left against right as the symmetry index of the hind step, 100·(R − L)/(½(R + L)) (Robinson RO, Herzog W, Nigg BM.
 * J Manipulative Physiol Ther 1987;10:172), and the smallest difference between two such sessions that would be real.
 * "Right" is the step that ends on the right hind foot. A sound dog on the flat shows up to 11 %, so no cut-off is given.
 */
export function readSides(pooled: PooledStep): Judgement["leftRight"] {
  if (pooled.side === null) return null;
  const scale = 100 / pooled.mean.value;
  const differencePercent = estimateOf(pooled.side, scale);
  const smallestRealPercent = minimalDetectableChange(pooled.side.se * scale);
  const size = Math.abs(differencePercent.value).toFixed(0);
  const side = differencePercent.value > 0 ? "right" : "left";
  const [low, high] = differencePercent.interval;
  const equal = low <= 0 && high >= 0;
  const sentence = equal
    ? `Steps onto the left and the right hind foot are equal as far as ${differencePercent.n} steps can tell (${size} % apart).`
    : `Steps onto the ${side} hind foot are ${size} % longer; between two sessions only a change of more than ${smallestRealPercent.toFixed(0)} % is real.`;
  return { differencePercent, smallestRealPercent, sentence };
}
