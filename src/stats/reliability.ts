import { fQuantile } from "./distributions.ts";

/** Smallest change between two measurements that is real with 95 % certainty: 1.96·√2·SEM. */
export function minimalDetectableChange(sem: number): number {
  return 1.96 * Math.SQRT2 * sem;
}

/** Standard error of measurement from the spread between subjects and an intraclass correlation: SD·√(1 − ICC). */
export function errorOfMeasurement(sd: number, icc: number): number {
  return sd * Math.sqrt(1 - icc);
}

export interface IntraclassCorrelation {
  icc: number;
  interval: [number, number];
}

export interface IntraclassCorrelations {
  /** One rating each, raters drawn anew for every subject: ICC(1,1) and the mean of k, ICC(1,k). */
  oneWay: { single: IntraclassCorrelation; mean: IntraclassCorrelation };
  /** Agreement, the same random raters for all: ICC(2,1), ICC(2,k). The interval is given for a single rating only. */
  agreement: { single: IntraclassCorrelation; mean: { icc: number } };
  /** Consistency, the same fixed raters for all: ICC(3,1), ICC(3,k). */
  consistency: { single: IntraclassCorrelation; mean: IntraclassCorrelation };
  meanSquares: { subjects: number; within: number; raters: number; error: number };
}

/**
 * Intraclass correlations of subjects × raters, all six forms with 95 % intervals.
 * Shrout PE, Fleiss JL. Psychol Bull 1979;86:420. Own code: no kept library for the web has them.
 * @param ratings one row a subject, all rows equally long, two rows and two columns at least
 * @throws RangeError on other shapes
 */
export function intraclassCorrelations(ratings: readonly (readonly number[])[]): IntraclassCorrelations {
  const n = ratings.length;
  const k = ratings[0]?.length ?? 0;
  if (n < 2 || k < 2 || ratings.some((row) => row.length !== k)) {
    throw new RangeError(
      "Intraclass correlation needs two subjects and two raters or more, each subject rated by all.",
    );
  }
  const grand = ratings.flat().reduce((a, b) => a + b, 0) / (n * k);
  const rowMeans = ratings.map((row) => row.reduce((a, b) => a + b, 0) / k);
  const columnMeans = Array.from({ length: k }, (_, j) => ratings.reduce((sum, row) => sum + row[j]!, 0) / n);
  const total = ratings.flat().reduce((sum, v) => sum + (v - grand) ** 2, 0);
  const bySubjects = k * rowMeans.reduce((sum, m) => sum + (m - grand) ** 2, 0);
  const byRaters = n * columnMeans.reduce((sum, m) => sum + (m - grand) ** 2, 0);
  const subjects = bySubjects / (n - 1);
  const within = (total - bySubjects) / (n * (k - 1));
  const raters = byRaters / (k - 1);
  const errorDf = (n - 1) * (k - 1);
  const error = (total - bySubjects - byRaters) / errorDf;

  const oneWayEnds = ends(subjects / within, n - 1, n * (k - 1));
  const consistencyEnds = ends(subjects / error, n - 1, errorDf);
  const agreement = (subjects - error) / (subjects + (k - 1) * error + (k * (raters - error)) / n);
  return {
    oneWay: {
      single: { icc: single(subjects / within, k), interval: both(oneWayEnds, (f) => single(f, k)) },
      mean: { icc: 1 - within / subjects, interval: both(oneWayEnds, (f) => 1 - 1 / f) },
    },
    agreement: {
      single: {
        icc: agreement,
        interval: agreementInterval({ subjects, raters, error }, agreement, n, k),
      },
      mean: { icc: (subjects - error) / (subjects + (raters - error) / n) },
    },
    consistency: {
      single: { icc: single(subjects / error, k), interval: both(consistencyEnds, (f) => single(f, k)) },
      mean: { icc: 1 - error / subjects, interval: both(consistencyEnds, (f) => 1 - 1 / f) },
    },
    meanSquares: { subjects, within, raters, error },
  };
}

function single(f: number, k: number): number {
  return (f - 1) / (f + k - 1);
}

/** The F ratio divided and multiplied by its quantiles. */
function ends(f: number, df1: number, df2: number): [number, number] {
  return [f / fQuantile(0.975, df1, df2), f * fQuantile(0.975, df2, df1)];
}

function both(ofF: [number, number], form: (f: number) => number): [number, number] {
  return [form(ofF[0]), form(ofF[1])];
}

/** Shrout & Fleiss 1979, p. 424, with Satterthwaite's degrees of freedom. */
function agreementInterval(
  ms: { subjects: number; raters: number; error: number },
  icc: number,
  n: number,
  k: number,
): [number, number] {
  const fj = ms.raters / ms.error;
  const a = k * icc * fj + n * (1 + (k - 1) * icc) - k * icc;
  const v =
    ((k - 1) * (n - 1) * a ** 2) /
    ((n - 1) * k ** 2 * icc ** 2 * fj ** 2 + (n * (1 + (k - 1) * icc) - k * icc) ** 2);
  const upper = fQuantile(0.975, n - 1, v);
  const lower = fQuantile(0.975, v, n - 1);
  const { subjects, raters, error } = ms;
  return [
    (n * (subjects - upper * error)) / (upper * (k * raters + (k * n - k - n) * error) + n * subjects),
    (n * (lower * subjects - error)) / (k * raters + (k * n - k - n) * error + n * lower * subjects),
  ];
}
