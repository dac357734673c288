import { normalQuantile } from "./distributions.ts";

/** The value at which half of the weight is passed; halfway between two values where the half falls between them. */
export function weightedMedian(values: readonly number[], weights?: readonly number[]): number {
  const order = values.map((_, i) => i).sort((a, b) => values[a]! - values[b]!);
  let total = 0;
  for (const i of order) total += weights?.[i] ?? 1;
  let passed = 0;
  for (let k = 0; k < order.length; k++) {
    const i = order[k]!;
    passed += weights?.[i] ?? 1;
    if (passed > total / 2 + 1e-12 * total) return values[i]!;
    if (passed >= total / 2 - 1e-12 * total) return (values[i]! + values[order[k + 1] ?? i]!) / 2;
  }
  return Number.NaN;
}

/**
 * Theil–Sen slope: median of the slopes of all pairs with different x. A pair weighs as its lighter end, times
 * |x₂ − x₁|^reach: 0 is the plain estimator, 2 trusts far pairs more (Scholz FW. Ann Stat 1978;6:603), which costs
 * less where errors add up from step to step.
 * Intercept: median of y − slope·x. Theil H. 1950; Sen PK. JASA 1968;63:1379.
 * Own code, since kept libraries take neither weights nor give intervals; ml-regression-theil-sen referees it in the tests.
 */
export function theilSen(
  x: readonly number[],
  y: readonly number[],
  weights?: readonly number[],
  reach = 0,
): { slope: number; intercept: number } {
  const slopes: number[] = [];
  const pairWeights: number[] = [];
  for (let i = 0; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) {
      const run = x[j]! - x[i]!;
      if (run === 0) continue;
      slopes.push((y[j]! - y[i]!) / run);
      pairWeights.push(Math.min(weights?.[i] ?? 1, weights?.[j] ?? 1) * Math.abs(run) ** reach);
    }
  }
  const slope = weightedMedian(slopes, pairWeights);
  return {
    slope,
    intercept: weightedMedian(
      y.map((v, i) => v - slope * x[i]!),
      weights,
    ),
  };
}

/**
 * Distribution-free interval of the Theil–Sen slope from Kendall's variance with ties (Sen 1968, eq. 2.6).
 * Needs independent residuals about the line; steps of a dog that does not correct itself are not (see creep.ts).
 */
export function senInterval(x: readonly number[], y: readonly number[], level = 0.95): [number, number] {
  const slopes: number[] = [];
  for (let i = 0; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) {
      if (x[j] !== x[i]) slopes.push((y[j]! - y[i]!) / (x[j]! - x[i]!));
    }
  }
  slopes.sort((a, b) => a - b);
  const n = x.length;
  const variance = (n * (n - 1) * (2 * n + 5) - tieTerm(x) - tieTerm(y)) / 18;
  const reach = normalQuantile(0.5 + level / 2) * Math.sqrt(variance);
  const low = Math.max(0, Math.round((slopes.length - reach) / 2) - 1);
  const high = Math.min(slopes.length - 1, Math.round((slopes.length + reach) / 2));
  return [slopes[low] ?? Number.NaN, slopes[high] ?? Number.NaN];
}

function tieTerm(values: readonly number[]): number {
  const counts = new Map<number, number>();
  for (const v of values) counts.set(v, (counts.get(v) ?? 0) + 1);
  let sum = 0;
  for (const k of counts.values()) sum += k * (k - 1) * (2 * k + 5);
  return sum;
}
