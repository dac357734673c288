/** Robust slope, reliability, agreement, bootstrap and symmetry against published examples; the source stands beside each. */
import jStat from "jstat";
import { TheilSenRegression } from "ml-regression-theil-sen";
import {
  mean,
  median,
  sampleCorrelation,
  sampleStandardDeviation,
  standardDeviation,
} from "simple-statistics";
import { describe, expect, test } from "vitest";
import { blandAltman, repeatability } from "../../src/stats/agreement.ts";
import { clusterBootstrap, resampleIndices } from "../../src/stats/bootstrap.ts";
import { seededRandom } from "../../src/stats/random.ts";
import {
  errorOfMeasurement,
  intraclassCorrelations,
  minimalDetectableChange,
} from "../../src/stats/reliability.ts";
import { symmetryIndex } from "../../src/stats/symmetry.ts";
import { senInterval, theilSen } from "../../src/stats/theil-sen.ts";

describe("Theil–Sen slope", () => {
  // Sen PK. JASA 1968;63:1379 (the interval printed there is wrong; this one is R deming's, checked with SciPy).
  const t = [1, 2, 3, 4, 10, 12, 18];
  const y = [9, 15, 19, 20, 45, 55, 78];

  test("Sen's example: slope 4, intercept 6, 93 % interval 26/7 to 35/8", () => {
    const line = theilSen(t, y);
    expect(line.slope).toBe(4);
    expect(line.intercept).toBe(6);
    const [low, high] = senInterval(t, y, 0.93);
    expect(low).toBeCloseTo(26 / 7, 12);
    expect(high).toBeCloseTo(35 / 8, 12);
  });

  test("ml-regression-theil-sen agrees", () => {
    const referee = new TheilSenRegression(t, y);
    expect(theilSen(t, y).slope).toBeCloseTo(referee.slope, 12);
    expect(theilSen(t, y).intercept).toBeCloseTo(referee.intercept, 12);
  });

  test("Hollander & Wolfe 1999 with ties: slope 0.5, 95 % interval 0.3243 to 0.75 (R statpsych)", () => {
    const x = [67, 28, 30, 28, 52, 40, 25, 37, 44, 10, 14, 20, 28, 40, 51];
    const v = [21, 4, 9, 12, 35, 18, 10, 22, 24, 1, 6, 8, 13, 16, 19];
    expect(theilSen(x, v).slope).toBeCloseTo(0.5, 12);
    const [low, high] = senInterval(x, v);
    expect(low).toBeCloseTo(0.3243243, 6);
    expect(high).toBeCloseTo(0.75, 12);
  });

  test("one wild landing leaves the slope alone; far pairs may weigh more", () => {
    const x = [0, 1, 2, 3, 4, 5, 6];
    const v = x.map((i) => 0.45 * i);
    v[3] = 9;
    expect(theilSen(x, v).slope).toBeCloseTo(0.45, 12);
    expect(theilSen(x, v, undefined, 2).slope).toBeCloseTo(0.45, 12);
  });
});

describe("intraclass correlation (Shrout PE, Fleiss JL. Psychol Bull 1979;86:420)", () => {
  const found = intraclassCorrelations([
    [9, 2, 5, 8],
    [6, 1, 3, 2],
    [8, 4, 6, 8],
    [7, 1, 2, 6],
    [10, 5, 6, 9],
    [6, 2, 4, 7],
  ]);

  test("mean squares", () => {
    expect(found.meanSquares.subjects).toBeCloseTo(11.241667, 6);
    expect(found.meanSquares.within).toBeCloseTo(6.263889, 6);
    expect(found.meanSquares.raters).toBeCloseTo(32.486111, 6);
    expect(found.meanSquares.error).toBeCloseTo(1.019444, 6);
    // jstat's one-way analysis of variance is the referee of the F ratio behind ICC(1).
    const byRow = jStat as unknown as { anovafscore(...groups: number[][]): number };
    const f = byRow.anovafscore(
      [9, 2, 5, 8],
      [6, 1, 3, 2],
      [8, 4, 6, 8],
      [7, 1, 2, 6],
      [10, 5, 6, 9],
      [6, 2, 4, 7],
    );
    expect(found.meanSquares.subjects / found.meanSquares.within).toBeCloseTo(f, 9);
  });

  test("all six forms and their intervals", () => {
    const close = (
      got: { icc: number; interval: [number, number] },
      icc: number,
      low: number,
      high: number,
    ) => {
      expect(got.icc).toBeCloseTo(icc, 6);
      expect(got.interval[0]).toBeCloseTo(low, 4);
      expect(got.interval[1]).toBeCloseTo(high, 4);
    };
    close(found.oneWay.single, 0.165742, -0.1329, 0.7226);
    close(found.agreement.single, 0.289764, 0.0188, 0.7611);
    close(found.consistency.single, 0.714841, 0.3425, 0.9459);
    close(found.oneWay.mean, 0.442797, -0.8844, 0.9124);
    expect(found.agreement.mean.icc).toBeCloseTo(0.620051, 6);
    close(found.consistency.mean, 0.909316, 0.6757, 0.9859);
  });

  test("standard error and minimal detectable change (definitions; worked by hand)", () => {
    expect(errorOfMeasurement(5, 0.9)).toBeCloseTo(1.5811, 4);
    expect(minimalDetectableChange(errorOfMeasurement(5, 0.9))).toBeCloseTo(4.3827, 3);
    expect(errorOfMeasurement(2, 0.75)).toBeCloseTo(1, 12);
    expect(minimalDetectableChange(1)).toBeCloseTo(2.7719, 3);
  });
});

describe("agreement of two flow meters (Bland JM, Altman DG. Lancet 1986;i:307)", () => {
  const wright1 = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427];
  const wright2 = [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421];
  const mini1 = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451];
  const mini2 = [525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443];

  test("bias, limits and their errors", () => {
    const paper = blandAltman(wright1, mini1, 2);
    expect(paper.bias).toBeCloseTo(-2.117647, 6);
    expect(paper.sd).toBeCloseTo(38.76513, 5);
    expect(paper.limits[0]).toBeCloseTo(-79.648, 3);
    expect(paper.limits[1]).toBeCloseTo(75.413, 3);
    const usual = blandAltman(wright1, mini1, 1.959964);
    expect(usual.limits[0]).toBeCloseTo(-78.095905, 4);
    expect(usual.limits[1]).toBeCloseTo(73.860611, 4);
    expect(paper.biasInterval[0]).toBeCloseTo(-22.05, 2);
    expect(paper.biasInterval[1]).toBeCloseTo(17.81, 2);
    expect(paper.limitSe).toBeCloseTo(16.285, 3);
    const differences = wright1.map((v, i) => v - mini1[i]!);
    expect(paper.bias).toBeCloseTo(mean(differences), 12);
    expect(paper.sd).toBeCloseTo(sampleStandardDeviation(differences), 12);
  });

  test("repeatability of each meter", () => {
    expect(repeatability(wright1, wright2)).toBeCloseTo(43.29, 2);
    expect(repeatability(mini1, mini2)).toBeCloseTo(56.32, 2);
  });
});

describe("bootstrap", () => {
  const lsat = [576, 635, 558, 578, 666, 580, 555, 661, 651, 605, 653, 575, 545, 572, 594];
  const gpa = [3.39, 3.3, 2.81, 3.03, 3.44, 3.07, 3.0, 3.43, 3.36, 3.13, 3.12, 2.74, 2.76, 2.88, 2.96];
  const ends = (values: number[], level: number) => {
    const sorted = values.toSorted((a, b) => a - b);
    return [
      sorted[Math.floor(((1 - level) / 2) * sorted.length)]!,
      sorted[Math.floor((1 - (1 - level) / 2) * sorted.length)]!,
    ] as const;
  };

  test("law school correlation 0.7764 with its percentile interval (MATLAB help; pingouin's tests), ±0.03", () => {
    expect(sampleCorrelation(lsat, gpa)).toBeCloseTo(0.776374, 6);
    const random = seededRandom(11);
    const values = Array.from({ length: 4000 }, () => {
      const drawn = resampleIndices(15, random);
      return sampleCorrelation(
        drawn.map((i) => lsat[i]!),
        drawn.map((i) => gpa[i]!),
      );
    });
    expect(Math.abs(standardDeviation(values) - 0.13)).toBeLessThan(0.03);
    const [low90, high90] = ends(values, 0.9);
    expect(Math.abs(low90 - 0.52)).toBeLessThan(0.03);
    expect(Math.abs(high90 - 0.95)).toBeLessThan(0.03);
    const [low95, high95] = ends(values, 0.95);
    expect(Math.abs(low95 - 0.45)).toBeLessThan(0.03);
    expect(Math.abs(high95 - 0.96)).toBeLessThan(0.03);
  });

  test("mean of the grades: 95 % interval 2.98 to 3.21 (pingouin's tests)", () => {
    const values = clusterBootstrap([gpa], (c) => mean(c.flat()), 4000, seededRandom(3));
    const [low, high] = ends(values, 0.95);
    expect(Math.abs(low - 2.98)).toBeLessThan(0.02);
    expect(Math.abs(high - 3.21)).toBeLessThan(0.02);
  });

  test("mouse survival (Efron B, Tibshirani RJ. An Introduction to the Bootstrap, 1993, ch. 2)", () => {
    const treated = [94, 197, 16, 38, 99, 141, 23];
    const control = [52, 104, 146, 10, 51, 30, 40, 27, 46];
    expect(mean(treated)).toBeCloseTo(86.857, 3);
    expect(mean(control)).toBeCloseTo(56.222, 3);
    expect(sampleStandardDeviation(treated) / Math.sqrt(7)).toBeCloseTo(25.235, 2);
    expect(sampleStandardDeviation(control) / Math.sqrt(9)).toBeCloseTo(14.159, 2);
    expect(median(treated)).toBe(94);
    // Ideal bootstrap error: n in the denominator.
    for (const [data, ideal] of [
      [treated, 23.364],
      [control, 13.349],
    ] as const) {
      expect(standardDeviation([...data]) / Math.sqrt(data.length)).toBeCloseTo(ideal, 2);
      const values = clusterBootstrap([data], (c) => mean(c.flat()), 8000, seededRandom(5));
      expect(Math.abs(standardDeviation(values) / ideal - 1)).toBeLessThan(0.03);
    }
  });

  test("all 27 resamples of 1, 2, 4: mean 2.3333, spread 0.720082; resampling comes to the same", () => {
    const data = [1, 2, 4];
    const all = data.flatMap((a) => data.flatMap((b) => data.map((c) => (a + b + c) / 3)));
    expect(mean(all)).toBeCloseTo(7 / 3, 12);
    expect(standardDeviation(all)).toBeCloseTo(0.720082, 6);
    const values = clusterBootstrap([data], (c) => mean(c.flat()), 20000, seededRandom(7));
    expect(mean(values)).toBeCloseTo(7 / 3, 1);
    expect(standardDeviation(values)).toBeCloseTo(0.72, 1);
  });

  test("two-stage resampling keeps the spread between clusters", () => {
    const clusters = [
      [0, 0, 0],
      [10, 10, 10],
    ];
    const values = clusterBootstrap(clusters, (c) => mean(c.flat()), 4000, seededRandom(9));
    // Clusters alone vary: 0, 5, 5, 10 with equal chance.
    expect(standardDeviation(values)).toBeCloseTo(Math.sqrt(12.5), 0);
  });
});

describe("symmetry index (J Phys Med Rehabil 2014;2:201, table 1)", () => {
  test.each([
    [0.39, 0.25, 43.75],
    [0.59, 0.4, 38.38],
    [0.47, 0.37, 23.81],
    [0.25, 0.39, -43.75],
    [0.4, 0.59, -38.38],
    [0.37, 0.47, -23.81],
  ])("%d and %d: %d %%", (first, second, expected) => {
    expect(symmetryIndex(first, second)).toBeCloseTo(expected, 2);
    expect(symmetryIndex(second, first)).toBeCloseTo(-expected, 2);
  });
});
