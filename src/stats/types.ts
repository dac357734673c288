/** A value with its 95 % interval, both in the same unit, and the number of observations behind it. */
export interface Estimate {
  value: number;
  /** Lower and upper end of the 95 % interval. */
  interval: [number, number];
  n: number;
}

/** A 3 × 3 matrix, row by row. */
export type Matrix3 = [number, number, number, number, number, number, number, number, number];
