import { studentQuantile } from "../stats/distributions.ts";
import type { Estimate } from "../stats/types.ts";

/** Published error of walking speed from one video camera, m/s (people: Stenum J et al. PLoS Comput Biol 2021;17:e1008935). */
const SPEED_ERROR_MPS = 0.1;

/** Mean speed of several passes, m/s, with its 95 % interval; null without a pass. */
export function meanSpeed(speeds: readonly number[]): Estimate | null {
  const n = speeds.length;
  if (n === 0) return null;
  const value = speeds.reduce((a, b) => a + b, 0) / n;
  const squares = speeds.reduce((sum, s) => sum + (s - value) ** 2, 0);
  const reach = n === 1 ? SPEED_ERROR_MPS : studentQuantile(0.975, n - 1) * Math.sqrt(squares / (n - 1) / n);
  return { value, interval: [value - reach, value + reach], n };
}
