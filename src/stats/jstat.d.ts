/** The part of jstat that is used here; the package ships no types of its own. */
declare module "jstat" {
  interface Distribution1 {
    cdf(x: number, a: number): number;
    inv(p: number, a: number): number;
  }
  interface Distribution2 {
    cdf(x: number, a: number, b: number): number;
    inv(p: number, a: number, b: number): number;
  }
  const jStat: {
    studentt: Distribution1;
    chisquare: Distribution1;
    normal: Distribution2;
    centralF: Distribution2;
  };
  export default jStat;
}
