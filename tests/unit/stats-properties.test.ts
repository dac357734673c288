import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { circularSd, resultant, wrapAngle, wrapFraction } from "../../src/stats/circular.ts";
import { circularLinear } from "../../src/stats/circular-linear.ts";
import { seededRandom } from "../../src/stats/random.ts";
import { intraclassCorrelations } from "../../src/stats/reliability.ts";
import { symmetryIndex } from "../../src/stats/symmetry.ts";
import { theilSen, weightedMedian } from "../../src/stats/theil-sen.ts";

const angle = fc.double({ min: -20, max: 20, noNaN: true });
const length = fc.double({ min: -5, max: 5, noNaN: true });

describe("circular mean", () => {
  test("turning all angles turns the mean and leaves the spread", () => {
    fc.assert(
      fc.property(fc.array(angle, { minLength: 2, maxLength: 20 }), angle, (angles, by) => {
        const before = resultant(angles);
        fc.pre(before.r > 1e-3);
        const after = resultant(angles.map((a) => a + by));
        expect(after.r).toBeCloseTo(before.r, 9);
        expect(wrapAngle(after.mean - before.mean - by)).toBeCloseTo(0, 6);
      }),
    );
  });

  test("a mirror turns the mean's sign; order does not matter", () => {
    fc.assert(
      fc.property(fc.array(angle, { minLength: 2, maxLength: 20 }), (angles) => {
        const found = resultant(angles);
        fc.pre(found.r > 1e-3);
        const mirrored = resultant(angles.map((a) => -a));
        expect(wrapAngle(mirrored.mean + found.mean)).toBeCloseTo(0, 6);
        expect(resultant(angles.toReversed()).r).toBeCloseTo(found.r, 9);
      }),
    );
  });

  test("a weight of two is the landing twice", () => {
    fc.assert(
      fc.property(angle, angle, (a, b) => {
        const weighted = resultant([a, b], [2, 1]);
        const twice = resultant([a, a, b]);
        expect(weighted.r).toBeCloseTo(twice.r, 9);
        expect(weighted.n).toBe(3);
      }),
    );
  });

  test("normal scatter of σ gives R = exp(−σ²/2), and the circular spread gives σ back", () => {
    const random = seededRandom(2);
    const sigma = 0.5;
    const angles = Array.from(
      { length: 20000 },
      () => sigma * Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random()),
    );
    const { r } = resultant(angles);
    expect(r).toBeCloseTo(Math.exp(-(sigma ** 2) / 2), 2);
    expect(circularSd(r)).toBeCloseTo(sigma, 2);
  });

  test("wrapped fractions lie within half a gap", () => {
    fc.assert(
      fc.property(length, (f) => {
        expect(Math.abs(wrapFraction(f))).toBeLessThanOrEqual(0.5);
        expect(Math.abs(Math.round(f - wrapFraction(f)) - (f - wrapFraction(f)))).toBeLessThan(1e-9);
      }),
    );
  });
});

describe("slopes", () => {
  const points = fc.array(fc.tuple(fc.integer({ min: 0, max: 40 }), length), { minLength: 3, maxLength: 12 });

  test("Theil–Sen follows stretching, shifting and mirroring, and forgets order", () => {
    fc.assert(
      fc.property(points, length, fc.double({ min: 0.1, max: 9, noNaN: true }), (xy, shift, scale) => {
        const x = xy.map((p) => p[0]);
        const y = xy.map((p) => p[1]);
        fc.pre(new Set(x).size > 1);
        const { slope } = theilSen(x, y);
        const moved = theilSen(
          x,
          y.map((v) => scale * v + shift),
        );
        expect(moved.slope).toBeCloseTo(scale * slope, 6);
        const mirrored = theilSen(
          x.map((v) => -v),
          y,
        );
        expect(mirrored.slope).toBeCloseTo(-slope, 9);
        expect(theilSen(x.toReversed(), y.toReversed()).slope).toBeCloseTo(slope, 9);
      }),
    );
  });

  test("adding a drift adds it to the circular–linear slope, mod one turn", () => {
    fc.assert(
      fc.property(
        fc.double({ min: -0.2, max: 0.2, noNaN: true }),
        fc.double({ min: -0.2, max: 0.2, noNaN: true }),
        (drift, more) => {
          const x = [0, 1, 2, 3, 4, 5, 6];
          const of = (slope: number) =>
            circularLinear([{ x, angles: x.map((i) => 2 * Math.PI * slope * i) }]).slope;
          expect(of(drift + more)).toBeCloseTo(of(drift) + more, 5);
        },
      ),
    );
  });

  test("weighted median: weights of one are the median, a heavy value wins", () => {
    fc.assert(
      fc.property(fc.array(length, { minLength: 1, maxLength: 15 }), (values) => {
        const sorted = values.toSorted((a, b) => a - b);
        const half = Math.floor(sorted.length / 2);
        const median = sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
        expect(weightedMedian(values)).toBeCloseTo(median, 12);
        const heavy = values.map((_, i) => (i === 0 ? values.length : 1));
        if (values.length > 1) expect(weightedMedian(values, heavy)).toBe(values[0]);
      }),
    );
  });
});

describe("agreement and symmetry", () => {
  test("raters who agree to the digit have a correlation of one, in every form", () => {
    const found = intraclassCorrelations([
      [1, 1.000001],
      [4, 4],
      [9, 9.000001],
      [2, 2],
    ]);
    expect(found.agreement.single.icc).toBeCloseTo(1, 6);
    expect(found.consistency.mean.icc).toBeCloseTo(1, 6);
  });

  test("a table with holes is refused in a sentence", () => {
    expect(() => intraclassCorrelations([[1, 2], [3]])).toThrow(/two subjects and two raters/);
  });

  test("the symmetry index swaps sign with the sides", () => {
    const step = fc.double({ min: 0.05, max: 2, noNaN: true });
    fc.assert(
      fc.property(step, step, (a, b) => {
        expect(symmetryIndex(a, b)).toBeCloseTo(-symmetryIndex(b, a), 9);
      }),
    );
  });
});

test("streams of neighbouring seeds have nothing to do with one another", () => {
  const first = Array.from({ length: 500 }, (_, seed) => seededRandom(seed + 1)());
  let covariance = 0;
  for (let i = 1; i < first.length; i++) covariance += (first[i]! - 0.5) * (first[i - 1]! - 0.5);
  // 1/12 would be perfect correlation; four standard errors of 500 independent pairs.
  expect(Math.abs(covariance / 499)).toBeLessThan((4 * (1 / 12)) / Math.sqrt(499));
  expect(seededRandom(3)()).toBe(seededRandom(3)());
});
