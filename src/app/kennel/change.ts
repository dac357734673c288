import type { Estimate } from "../../stats/types.ts";

export interface ChangeBetween {
  /** Later minus earlier, in the unit of the two. */
  difference: number;
  /** A difference up to this can be chance within the two sessions. */
  smallest: number;
  /** True where the difference is larger than that. It then says "changed", never "better". */
  real: boolean;
}

/**
 * What two sessions can tell of a change. The smallest change that means anything is √(h₁² + h₂²) with the half-widths
 * h of the two 95 % intervals; for equal standard errors that is the minimal detectable change 1.96·√2·SEM
 * (Weir JP. J Strength Cond Res 2005;19:231). Changes from day to day come on top and are not in it.
 */
export function changeBetween(earlier: Estimate, later: Estimate): ChangeBetween {
  const difference = later.value - earlier.value;
  const smallest = Math.hypot(halfWidth(earlier), halfWidth(later));
  return { difference, smallest, real: Math.abs(difference) > smallest };
}

/** The wider side, so that a lopsided interval never makes a change look surer than it is. */
function halfWidth({ value, interval: [low, high] }: Estimate): number {
  return Math.max(value - low, high - value);
}
