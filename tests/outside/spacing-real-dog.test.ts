/**
 * Hind landings of a real dog on the flat, in order along travel (metres). Plain numbers read from the motion capture of
 * the AI4Animation dog (Zhang H, Starke S, Komura T, Saito J. Mode-adaptive neural networks for quadruped motion control.
 * ACM Trans Graph 2018;37(4)), as published in the motion_imitation research repository: clip walk04, frames 300–547
 * (trot) and clip walk00, frames 130–480 (pace). Poles are virtual: at 0.9, 1.0 and 1.1 times the mean step, so that the
 * right answer is known before.
 */
import { describe, expect, test } from "vitest";
import type { Landing, Pass } from "../../src/gait/types.ts";
import { judge } from "../../src/spacing/judge.ts";
import { travelRow } from "../../src/spacing/travel.ts";
import type { JudgeRequest } from "../../src/spacing/types.ts";
import { resultant } from "../../src/stats/circular.ts";
import { symmetryIndex } from "../../src/stats/symmetry.ts";
import { senInterval, theilSen } from "../../src/stats/theil-sen.ts";

const trot = {
  places: [
    2.663, 3.134, 3.563, 4.123, 4.616, 5.108, 5.572, 6.038, 6.539, 7.048, 7.562, 8.051, 8.501, 8.974, 9.431,
    9.893,
  ],
  speedMps: 1.966,
  strideTimeS: 0.492,
  gait: "trot" as const,
};
const pace = {
  places: [
    1.405, 1.766, 2.089, 2.459, 2.784, 3.162, 3.473, 3.824, 4.144, 4.509, 4.891, 5.297, 5.614, 5.97, 6.29,
    6.664, 7.016,
  ],
  speedMps: 1.131,
  strideTimeS: 0.622,
  gait: "pace" as const,
};
type Dog = typeof trot | typeof pace;

/** Rows of the published check: spacing and the place of the first pole. */
const rows = [
  { dog: trot, spacing: 0.4338, first: 2.4464, kind: "too-close", r: 0.155, creep: 0.052 },
  { dog: trot, spacing: 0.482, first: 2.4223, kind: "fits", r: 0.902, creep: 0.004 },
  { dog: trot, spacing: 0.5302, first: 2.3982, kind: "too-far", r: 0.113, creep: -0.044 },
  { dog: pace, spacing: 0.3157, first: 1.2468, kind: "too-close", r: 0.221, creep: 0.035 },
  { dog: pace, spacing: 0.3507, first: 1.2293, kind: "fits", r: 0.909, creep: 0 },
  { dog: pace, spacing: 0.3858, first: 1.2117, kind: "too-far", r: 0.219, creep: -0.035 },
] as const;

function passOf(dog: Dog, firstPole: number, lengthM: number, direction: 1 | -1): Pass {
  const landings = dog.places.map((place, i): Landing => {
    const along = place - firstPole;
    return {
      id: `${i}`,
      paw: i % 2 === 0 ? "LH" : "RH",
      onS: (i * dog.strideTimeS) / 2,
      offS: (i * dog.strideTimeS) / 2 + 0.15,
      xM: direction === 1 ? along : lengthM - along,
      yM: 0.3,
      xSeM: 0.002,
      probability: 0.95,
      source: "automatic",
    };
  });
  return {
    id: "a",
    startS: 0,
    endS: (dog.places.length * dog.strideTimeS) / 2,
    direction,
    landings,
    speedMps: dog.speedMps,
    accelerationMps2: 0,
    gait: dog.gait,
    strideTimeS: dog.strideTimeS,
    limbPhase: null,
    dutyFactor: null,
  };
}

function requestOf(row: (typeof rows)[number], gaps: number, direction: 1 | -1 = 1): JudgeRequest {
  const gapsM = Array.from({ length: gaps }, () => row.spacing);
  return {
    layout: { gapsM, heightsM: [], targetFractions: gapsM.map(() => 0.5) },
    passes: [passOf(row.dog, row.first, gaps * row.spacing, direction)],
    aim: "first-poles",
    gait: "trot",
  };
}

describe("a real dog's landings over virtual poles", () => {
  for (const row of rows) {
    const name = row.dog === trot ? "trotting" : "pacing";
    for (const direction of [1, -1] as const) {
      test(`${name}, poles ${row.spacing} m, direction ${direction}: ${row.kind}`, () => {
        // As many gaps as its whole way covers.
        const gaps = Math.ceil((row.dog.places.at(-1)! - row.first) / row.spacing);
        const judged = judge(requestOf(row, gaps, direction));
        expect(judged.verdict.kind).toBe(row.kind);
        expect(judged.creepMPerGap!.value).toBeCloseTo(row.creep, 2);
      });
    }
    test(`${name}, poles ${row.spacing} m: resultant length and creep per gap`, () => {
      const fractions = row.dog.places.map((x) => (x - row.first) / row.spacing);
      expect(resultant(fractions.map((f) => 2 * Math.PI * f)).r).toBeCloseTo(row.r, 2);
      const steps = row.dog.places.map((_, i) => i);
      expect(theilSen(steps, [...row.dog.places]).slope - row.spacing).toBeCloseTo(row.creep, 2);
    });
  }

  // The lists are rounded to a millimetre, the values beside them were worked out before rounding.
  test("Theil–Sen step and its interval (values from SciPy's theilslopes)", () => {
    const steps = (n: number) => Array.from({ length: n }, (_, i) => i);
    expect(theilSen(steps(16), trot.places).slope).toBeCloseTo(0.4862, 4);
    const [low, high] = senInterval(steps(16), trot.places);
    expect(low).toBeCloseTo(0.482, 3);
    expect(high).toBeCloseTo(0.4906, 3);
    expect(theilSen(steps(17), pace.places).slope).toBeCloseTo(0.3506, 4);
    const [lowPace, highPace] = senInterval(steps(17), pace.places);
    expect(lowPace).toBeCloseTo(0.3472, 3);
    expect(highPace).toBeCloseTo(0.354, 3);
  });

  test("left against right: symmetry index 3.70 % (trot) and 10.99 % (pace)", () => {
    for (const [dog, percent] of [
      [trot, 3.7],
      [pace, 10.99],
    ] as const) {
      const onto = { left: [] as number[], right: [] as number[] };
      dog.places.forEach((x, i) => {
        if (i > 0) onto[i % 2 === 0 ? "left" : "right"].push(x - dog.places[i - 1]!);
      });
      const mean = (v: number[]) => v.reduce((a, b) => a + b, 0) / v.length;
      expect(symmetryIndex(mean(onto.right), mean(onto.left))).toBeCloseTo(percent, 0);
      const row = rows.find((r) => r.dog === dog && r.kind === "fits")!;
      const gaps = Math.ceil((dog.places.at(-1)! - row.first) / row.spacing);
      const judged = judge(requestOf(row, gaps));
      expect(judged.leftRight!.differencePercent.value).toBeCloseTo(percent, 0);
    }
  });

  test("a row of five gaps on its way is read the same way, if it is read at all", () => {
    for (const row of rows) {
      const kind = judge(requestOf(row, 5)).verdict.kind;
      expect([row.kind, "cannot-tell"]).toContain(kind);
    }
  });

  test("one virtual row seen from both ends has the same slots", () => {
    const layout = { gapsM: [0.4, 0.5], heightsM: [], targetFractions: [0.5, 0.25] };
    const there = travelRow(layout, 1, 1).slotsM;
    const back = travelRow(layout, -1, 1)
      .slotsM.map((u) => 0.9 - u)
      .toReversed();
    back.forEach((u, i) => {
      expect(u).toBeCloseTo(there[i]!, 12);
    });
  });
});
