/**
 * Circular statistics against published examples. Sources:
 * - Zar JH. Biostatistical Analysis, examples 26.2–26.5, 27.1
 * - Jammalamadaka SR, SenGupta A. Topics in Circular Statistics, 2001, p. 23 (R package CircStats)
 * - Mardia KV, Jupp PE. Directional Statistics, 2000, example 1.1
 * - MATLAB CircStat as quoted by the pingouin documentation
 * - Stephens 1969 / Fisher NI. Statistical Analysis of Circular Data, 1993, B.3 (76 turtles)
 * - Kempter R et al. J Neurosci Methods 2012;207:113 (circular–linear regression; own worked lines)
 */
import { mean } from "simple-statistics";
import { describe, expect, test } from "vitest";
import { circularSd, meanHalfWidth, rayleigh, resultant } from "../../src/stats/circular.ts";
import { circularLinear } from "../../src/stats/circular-linear.ts";

const rad = (degrees: readonly number[]) => degrees.map((d) => (d * Math.PI) / 180);
const deg = (radians: number) => (radians * 180) / Math.PI;
const turn = (degrees: number) => ((degrees % 360) + 360) % 360;

describe("mean direction and resultant length", () => {
  const zar = rad([45, 55, 81, 96, 110, 117, 132, 154]);

  test("Zar 26.2: eight trees' directions", () => {
    const { mean: m, r, n } = resultant(zar);
    expect(deg(m)).toBeCloseTo(98.9878, 4);
    expect(r).toBeCloseTo(0.82522, 5);
    expect(r * n).toBeCloseTo(6.60174, 4);
    expect(deg(Math.sqrt(2 * (1 - r)))).toBeCloseTo(33.88, 1);
    expect(deg(circularSd(r))).toBeCloseTo(35.51, 1);
    const half = deg(meanHalfWidth({ mean: m, r, n })!);
    expect(deg(m) - half).toBeCloseTo(68, 0);
    expect(deg(m) + half).toBeCloseTo(130, 0);
  });

  test("Zar 26.3: grouped into twelve sectors", () => {
    const centres = Array.from({ length: 12 }, (_, i) => 15 + 30 * i);
    const counts = [0, 6, 9, 13, 15, 22, 17, 12, 8, 3, 0, 0];
    const { mean: m, r, n } = resultant(rad(centres), counts);
    expect(n).toBe(105);
    expect(deg(m)).toBeCloseTo(161.565, 3);
    expect(r).toBeCloseTo(0.55064, 5);
    // Zar's correction for 30° sectors.
    expect(r * (Math.PI / 12 / Math.sin(Math.PI / 12))).toBeCloseTo(0.55698, 4);
  });

  test("Jammalamadaka & SenGupta p. 23, with moments two to four", () => {
    const angles = rad([51, 67, 40, 109, 31, 358]);
    const { mean: m, r } = resultant(angles);
    expect(m).toBeCloseTo(0.8487044, 6);
    expect(1 - r).toBeCloseTo(0.1635635, 6);
    expect(circularSd(r)).toBeCloseTo(0.59767, 5);
    for (const [p, direction, length] of [
      [2, 1.588121, 0.4800428],
      [3, 1.963919, 0.236541],
      [4, 2.685556, 0.2255761],
    ] as const) {
      const moment = resultant(angles.map((a) => p * a));
      expect(moment.mean).toBeCloseTo(direction, 5);
      // Lengths are quoted to a digit or two less than directions.
      expect(moment.r).toBeCloseTo(length, 4);
    }
  });

  test("Mardia & Jupp 1.1: roulette wheel", () => {
    const { mean: m, r } = resultant(rad([43, 45, 52, 61, 75, 88, 88, 279, 357]));
    expect(deg(m)).toBeCloseTo(51.0502, 3);
    expect(r).toBeCloseTo(0.710991, 5);
    expect(r * Math.cos(m)).toBeCloseTo(0.446957, 5);
    expect(r * Math.sin(m)).toBeCloseTo(0.552935, 5);
  });

  test("CircStats: weighted mean", () => {
    const angles = rad([0, 3.6, 36, 72, 108, 169.2, 324]);
    expect(resultant(angles, [12, 1, 6, 1, 2, 1, 1]).r).toBeCloseTo(0.766282, 4);
  });

  test("76 turtles (Stephens 1969; Fisher B.3)", () => {
    const turtles =
      "8 9 13 13 14 18 22 27 30 34 38 38 40 44 45 47 48 48 48 48 50 53 56 57 58 58 61 63 64 64 64 65 65 68 70 73 78 78 78 83 83 88 88 88 90 92 92 93 95 96 98 100 103 106 113 118 138 153 153 155 204 215 223 226 237 238 243 244 250 251 257 268 285 319 343 350"
        .split(" ")
        .map(Number);
    const found = resultant(rad(turtles));
    expect(found.n).toBe(76);
    expect(deg(found.mean)).toBeCloseTo(64.171, 2);
    expect(found.r).toBeCloseTo(0.49709, 4);
    expect(rayleigh(found).z).toBeCloseTo(18.78, 2);
    expect(rayleigh(found, "simple").p).toBeLessThan(1e-8);
  });

  test("around north (SciPy's circmean test)", () => {
    const { mean: m } = resultant(rad([355, 5, 2, 359, 10, 350]));
    expect(turn(deg(m))).toBeCloseTo(0.167690146, 8);
  });

  test("where nothing wraps, a narrow circular mean is the ordinary one", () => {
    const fractions = [0.48, 0.5, 0.53, 0.47, 0.51];
    const { mean: m } = resultant(fractions.map((f) => 2 * Math.PI * f));
    expect(turn(deg(m)) / 360).toBeCloseTo(mean(fractions), 4);
  });

  test("gap fractions 0.98 and 0.02 are neighbours: the mean is the pole, not the middle", () => {
    const { mean: m } = resultant([0.98, 0.02].map((f) => 2 * Math.PI * f));
    expect(m).toBeCloseTo(0, 12);
    expect(mean([0.98, 0.02])).toBe(0.5);
  });
});

describe("Rayleigh test, three formulas", () => {
  const examples = [
    {
      angles: rad([45, 55, 81, 96, 110, 117, 132, 154]),
      simple: 0.004305,
      zar: 0.001852,
      series: 0.001644,
      z: 5.448,
    },
    {
      angles: "0.785 1.570 3.141 0.839 5.934".split(" ").map(Number),
      simple: 0.290489,
      zar: 0.304844,
      series: null,
      z: 1.236,
    },
    {
      angles: [
        3.3192729, 3.0628233, 2.7219562, 3.8019564, 2.7290561, 0.8840816, 3.7646373, 2.9782072, 3.3060406,
        2.9012014,
      ],
      simple: 0.0025,
      zar: 0.001102,
      series: 0.0009917748,
      z: null,
    },
    {
      angles: rad([43, 45, 52, 61, 75, 88, 88, 279, 357]),
      simple: null,
      zar: 0.007036,
      series: 0.006858,
      z: null,
    },
  ];
  test.each(examples)("example %#", ({ angles, simple, zar, series, z }) => {
    const found = resultant(angles);
    if (z !== null) expect(rayleigh(found).z).toBeCloseTo(z, 3);
    if (simple !== null) expect(rayleigh(found, "simple").p).toBeCloseTo(simple, 5);
    expect(rayleigh(found, "zar").p).toBeCloseTo(zar, 5);
    if (series !== null) expect(rayleigh(found, "series").p).toBeCloseTo(series, 6);
  });
});

describe("steps that do not match the spacing", () => {
  // R = |sin(nπδ)/(n·sin(πδ))| for n landings that each drift by δ of a gap: the geometric sum, no source needed.
  test.each([
    [4, 0.05, 0.9393],
    [5, 0.1, 0.6472],
    [5, 0.2, 0],
    [8, 0.1, 0.2378],
    [10, 0.15, 0.2203],
    [16, 0.02, 0.8404],
    [16, 0.2, 0.0625],
  ])("%i landings drifting %d of a gap gather to %d", (n, drift, r) => {
    const angles = Array.from({ length: n }, (_, i) => 2 * Math.PI * (0.5 + drift * i));
    expect(resultant(angles).r).toBeCloseTo(r, 4);
  });

  test.each([0.02, -0.05, 0.13, -0.31, 0.45])(
    "circular–linear regression finds a drift of %d through any number of gaps",
    (drift) => {
      const x = Array.from({ length: 12 }, (_, i) => i);
      const angles = x.map((i) => 2 * Math.PI * (0.9 + drift * i - Math.floor(0.9 + drift * i)));
      const fit = circularLinear([{ x, angles }]);
      expect(fit.slope).toBeCloseTo(drift, 5);
      expect(fit.r).toBeCloseTo(1, 9);
      expect(turn(deg(fit.phase))).toBeCloseTo(324, 2);
    },
  );
});
