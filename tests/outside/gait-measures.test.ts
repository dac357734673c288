/**
 * Gait measures against published values; the source stands beside each. "Motion-captured dog" is the AI4Animation dog
 * (Zhang H, Starke S, Komura T, Saito J. ACM Trans Graph 2018;37(4)) as published in the motion_imitation repository:
 * plain numbers worked out from its trot (walk04 300–547), pace (walk00 130–480, walk03 200–350) and canter (run02).
 */
import { describe, expect, test } from "vitest";
import {
  expectedRelativeStride,
  froude,
  gaitClassByStride,
  hildebrandSector,
  nameGait,
  relativeStride,
  speedAtFroude,
  speedFromStride,
  strideFromSpeed,
} from "../../src/gait/measures.ts";

describe("Froude number", () => {
  // Griffin TM et al. J Exp Biol 2004;207:4215: horses of 0.7 and 1.4 m change at 1.6 and 2.3 m/s, Fr about 0.35.
  test("horses change from walk to trot at about 0.35", () => {
    expect(Math.abs(froude(1.6, 0.7) - 0.35)).toBeLessThan(0.05);
    expect(Math.abs(froude(2.3, 1.4) - 0.35)).toBeLessThan(0.05);
  });

  // Worked by hand from v = √(Fr·g·h), g = 9.81.
  test.each([
    [0.35, [0.829, 1.096, 1.243, 1.387, 1.55]],
    [0.5, [0.99, 1.31, 1.486, 1.657, 1.853]],
    [1, [1.401, 1.853, 2.101, 2.344, 2.62]],
  ] as const)("speed at Fr %d for five heights", (number, speeds) => {
    [0.2, 0.35, 0.45, 0.56, 0.7].forEach((h, i) => {
      expect(speedAtFroude(number, h)).toBeCloseTo(speeds[i]!, 3);
      expect(froude(speedAtFroude(number, h), h)).toBeCloseTo(number, 12);
    });
  });

  // Piazza AM et al. Am J Vet Res 2017;78:500: relative velocity on withers 0.33 to 0.46, so V*² is the Froude number.
  test("relative velocity squared is the Froude number on the withers", () => {
    expect(Math.sqrt(froude(0.773, 0.56))).toBeCloseTo(0.33, 3);
    expect(Math.sqrt(froude(1.205, 0.7))).toBeCloseTo(0.46, 3);
  });

  // Alexander RMcN. Nature 1976;261:129, inverse form S/h = 2.3·Fr^0.3.
  test("relative stride to expect", () => {
    const table = [
      [0.1, 1.153],
      [0.15, 1.302],
      [0.25, 1.517],
      [0.35, 1.679],
      [0.5, 1.868],
      [0.75, 2.11],
      [1, 2.3],
    ] as const;
    for (const [number, stride] of table) expect(expectedRelativeStride(number)).toBeCloseTo(stride, 3);
  });

  // Worked example in "Dinosaurs Without Bones": stride 2.8 m, hip 1.4 m, about 3 m/s.
  test("speed from a trackway", () => {
    expect(speedFromStride(2.8, 1.4)).toBeCloseTo(2.948, 3);
  });
});

describe("motion-captured dog", () => {
  const dog = [
    {
      strideM: 0.965,
      strideTimeS: 0.492,
      speedMps: 1.966,
      hipM: 0.375,
      froude: 1.05,
      relative: 2.571,
      is: "trot",
    },
    {
      strideM: 0.701,
      strideTimeS: 0.622,
      speedMps: 1.131,
      hipM: 0.379,
      froude: 0.344,
      relative: 1.85,
      is: "walk",
    },
    {
      strideM: 0.737,
      strideTimeS: 0.591,
      speedMps: 1.266,
      hipM: 0.373,
      froude: 0.439,
      relative: 1.978,
      is: "walk",
    },
  ] as const;

  test.each(dog)("stride $strideM m", (d) => {
    expect(strideFromSpeed(d.speedMps, d.strideTimeS)).toBeCloseTo(d.strideM, 1);
    expect(Math.abs(strideFromSpeed(d.speedMps, d.strideTimeS) / d.strideM - 1)).toBeLessThan(0.03);
    expect(froude(d.speedMps, d.hipM)).toBeCloseTo(d.froude, 2);
    expect(relativeStride(d.strideM, d.hipM)).toBeCloseTo(d.relative, 2);
    // Thulborn & Wade 1984: walk under 2.0 hip heights, trot to 2.9.
    expect(gaitClassByStride(d.relative)).toBe(d.is);
    // The trackway formula is known to run high on this dog: a band, not a truth.
    expect(Math.abs(speedFromStride(d.strideM, d.hipM) / d.speedMps - 1)).toBeLessThan(0.25);
  });

  test("its canter is a run", () => {
    expect(gaitClassByStride(3.7)).toBe("run");
  });

  test("limb phases name its gaits", () => {
    for (const limbPhase of [0.43, 0.46]) {
      expect(nameGait({ limbPhase, dutyFactor: 0.32, hindPhase: 0.5 })).toBe("trot");
    }
    for (const limbPhase of [0.03, 0.99]) {
      expect(nameGait({ limbPhase, dutyFactor: 0.45, hindPhase: 0.51 })).toBe("pace");
    }
  });
});

// Hildebrand M. Science 1965;150:701: eight sectors of 12.5 % about multiples of 12.5 % (limits from memory).
describe("Hildebrand's diagram", () => {
  test.each([
    [0, "pace"],
    [0.06, "pace"],
    [0.94, "pace"],
    [0.07, "lateral sequence, lateral couplets"],
    [0.18, "lateral sequence, lateral couplets"],
    [0.25, "lateral sequence, single-foot"],
    [0.4, "lateral sequence, diagonal couplets"],
    [0.44, "trot"],
    [0.56, "trot"],
    [0.6, "diagonal sequence, diagonal couplets"],
    [0.75, "diagonal sequence, single-foot"],
    [0.9, "diagonal sequence, lateral couplets"],
  ] as const)("phase %d is %s", (phase, sector) => {
    expect(hildebrandSector(phase)).toBe(sector);
    expect(hildebrandSector(phase + 3)).toBe(sector);
    expect(hildebrandSector(phase - 1)).toBe(sector);
  });

  // Ideal patterns. The even walk with a duty of 0.75 has three feet down at all times (Usherwood JR, Smith BJH 2018).
  test.each([
    ["walk", 0.25, 0.75],
    ["walk", 0.25, 0.6],
    ["walk", 0.17, 0.62],
    ["amble", 0.12, 0.6],
    ["pace", 0, 0.48],
    ["trot", 0.5, 0.45],
    ["trot", 0.5, 0.52],
  ] as const)("an ideal %s", (name, limbPhase, dutyFactor) => {
    expect(nameGait({ limbPhase, dutyFactor })).toBe(name);
  });
});
