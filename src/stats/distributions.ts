import jStat from "jstat";

/** Quantiles are slow and a session asks for the same few again and again. */
function remembered(quantile: (probability: number, df: number) => number) {
  const known = new Map<number, Map<number, number>>();
  return (probability: number, df: number): number => {
    const byDf = known.get(probability) ?? new Map<number, number>();
    known.set(probability, byDf);
    const value = byDf.get(df) ?? quantile(probability, df);
    byDf.set(df, value);
    return value;
  };
}

/** Quantile of Student's t; df any positive number. */
export const studentQuantile = remembered((probability, df) => jStat.studentt.inv(probability, df));

/** Quantile of the chi-square distribution; df any positive number. */
export const chiSquareQuantile = remembered((probability, df) => jStat.chisquare.inv(probability, df));

export function normalQuantile(probability: number): number {
  return jStat.normal.inv(probability, 0, 1);
}

export function fQuantile(probability: number, df1: number, df2: number): number {
  return jStat.centralF.inv(probability, df1, df2);
}
