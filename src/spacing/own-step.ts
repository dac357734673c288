import { studentQuantile } from "../stats/distributions.ts";
import { lengthText, type Units } from "./lengths.ts";
import { estimateOf, type Mean } from "./pooled-step.ts";
import type { Judgement } from "./types.ts";

/**
 * Is the step over the poles the dog's own? Poles pull a step towards their spacing; the way in, before the first pole,
 * shows the free step.
 * @param row step over the poles in slots of `pitchM` metres
 * @param approach free step, metres
 */
export function readOwnStep(
  row: Mean,
  approach: Mean,
  pitchM: number,
  units: Units,
): NonNullable<Judgement["ownStep"]> {
  const approachStepM = estimateOf(approach);
  const rowStepM = estimateOf(row, pitchM);
  const ratio = rowStepM.value / approachStepM.value;
  const relative = Math.hypot(row.se / row.value, approach.se / approach.value);
  const reach = studentQuantile(0.975, Math.min(row.df, approach.df)) * relative * ratio;
  const value = 100 * (ratio - 1);
  const stretchPercent = {
    value,
    interval: [value - 100 * reach, value + 100 * reach] as [number, number],
    n: approach.n,
  };
  const change = `${lengthText(approachStepM.value, units)} on the way in, ${lengthText(rowStepM.value, units)} over the poles`;
  const sentence =
    stretchPercent.interval[0] > 0
      ? `It reaches ${value.toFixed(0)} % further than its free step to fit these poles (${change}).`
      : stretchPercent.interval[1] < 0
        ? `It shortens its free step by ${Math.abs(value).toFixed(0)} % to fit these poles (${change}).`
        : `Its step over the poles is its own, as far as ${approach.n} steps on the way in can tell (${change}).`;
  return { approachStepM, rowStepM, stretchPercent, sentence };
}
