import { sampleStandardDeviation } from "simple-statistics";
import { studentQuantile } from "./distributions.ts";

export interface Agreement {
  /** Mean of a − b. */
  bias: number;
  biasInterval: [number, number];
  sd: number;
  /** Limits of agreement: bias ± width·sd. */
  limits: [number, number];
  /** Standard error of a limit. */
  limitSe: number;
  n: number;
}

/**
 * Agreement of two methods on the same things. Bland JM, Altman DG. Lancet 1986;i:307.
 * @param width standard deviations from bias to limit: 2 as in the paper, or 1.96
 * @throws RangeError unless a and b are equally long, two or more
 */
export function blandAltman(a: readonly number[], b: readonly number[], width = 1.96): Agreement {
  const n = a.length;
  if (n < 2 || b.length !== n)
    throw new RangeError("Agreement needs the same two or more things measured by both methods.");
  const differences = a.map((v, i) => v - b[i]!);
  const bias = differences.reduce((sum, d) => sum + d, 0) / n;
  const sd = sampleStandardDeviation(differences);
  const reach = (studentQuantile(0.975, n - 1) * sd) / Math.sqrt(n);
  return {
    bias,
    biasInterval: [bias - reach, bias + reach],
    sd,
    limits: [bias - width * sd, bias + width * sd],
    limitSe: Math.sqrt((3 * sd * sd) / n),
    n,
  };
}

/** Repeatability of one method measured twice: 2·√(mean squared difference) (Bland & Altman 1986). */
export function repeatability(first: readonly number[], second: readonly number[]): number {
  const squares = first.reduce((sum, v, i) => sum + (v - second[i]!) ** 2, 0);
  return 2 * Math.sqrt(squares / first.length);
}
