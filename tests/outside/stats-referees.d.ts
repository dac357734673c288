/** The part of the package used as a referee; it ships no types of its own. */
declare module "ml-regression-theil-sen" {
  export class TheilSenRegression {
    constructor(x: number[], y: number[]);
    slope: number;
    intercept: number;
  }
}
