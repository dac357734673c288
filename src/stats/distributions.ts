import jStat from "jstat";

const quantiles = new Map<string, number>();

/** Quantile of Student's t; df any positive number. Kept, since a session asks for the same few again and again. */
export function studentQuantile(probability: number, df: number): number {
  const key = `${probability} ${df}`;
  let value = quantiles.get(key);
  if (value === undefined) {
    value = jStat.studentt.inv(probability, df);
    quantiles.set(key, value);
  }
  return value;
}

/** P(T ≤ t) for Student's t with df degrees of freedom. */
export function studentBelow(t: number, df: number): number {
  return jStat.studentt.cdf(t, df);
}

export function normalQuantile(probability: number): number {
  return jStat.normal.inv(probability, 0, 1);
}

export function chiSquareQuantile(probability: number, df: number): number {
  return jStat.chisquare.inv(probability, df);
}

export function fQuantile(probability: number, df1: number, df2: number): number {
  return jStat.centralF.inv(probability, df1, df2);
}
