import { describe, expect, it } from "vitest";
import {
  describeTiming,
  firstAtOrAfter,
  nearestIndex,
  rateWarning,
  realRate,
  shownIndex,
} from "../../src/video/timing.ts";

const even = (count: number, fps: number) => Array.from({ length: count }, (_, k) => k / fps);

describe("what the times of a clip say", () => {
  it("finds nothing to say of a steady 60 a second", () => {
    expect(describeTiming(even(120, 60))).toEqual({
      meanFps: expect.closeTo(60, 9),
      variableRate: false,
      warnings: [],
    });
  });

  it("does not take times rounded to milliseconds for a variable rate", () => {
    const rounded = even(120, 60).map((timeS) => Math.round(timeS * 1000) / 1000);
    expect(describeTiming(rounded).variableRate).toBe(false);
  });

  it("sees a variable rate", () => {
    expect(describeTiming([0, 1, 2, 4, 5, 6, 8].map((tick) => tick / 60)).variableRate).toBe(true);
  });

  it("points at the longest skip", () => {
    const times = even(120, 60).map((timeS, k) => timeS + (k >= 40 ? 0.2 : 0) + (k >= 80 ? 0.5 : 0));
    const { warnings } = describeTiming(times);
    expect(warnings).toEqual([expect.stringMatching(/skips 2 times.* 1\.52 s to 2\.03 s/)]);
  });

  it("warns below 50 frames a second, more strongly below 20", () => {
    expect(rateWarning(59.94)).toBeNull();
    expect(rateWarning(49.999)).toBeNull();
    expect(rateWarning(29.97)).toMatch(/^30 frames a second is enough for a walk but coarse for a trot/);
    expect(rateWarning(12)).toMatch(/^Only 12 frames a second/);
  });

  it("makes nothing of one frame or none", () => {
    expect(describeTiming([]).meanFps).toBe(0);
    expect(describeTiming([3]).meanFps).toBe(0);
  });
});

describe("repeated pictures", () => {
  it("are read as the true rate when they come in a rhythm", () => {
    const twice = Array.from({ length: 24 }, (_, k) => (k % 2 === 0 ? 3 : 0.01));
    expect(realRate(twice, 60)).toBeCloseTo(30, 6);
    const fourOfFive = Array.from({ length: 24 }, (_, k) => (k % 5 === 0 ? 0 : 2 + (k % 3)));
    expect(Math.abs((realRate(fourOfFive, 30) ?? 0) - 24)).toBeLessThan(1);
  });

  it("are not seen in noise, in a scene at rest, or in one that stops", () => {
    expect(
      realRate(
        Array.from({ length: 24 }, (_, k) => 2 + Math.sin(k)),
        60,
      ),
    ).toBeNull();
    expect(realRate(Array(24).fill(0), 60)).toBeNull();
    expect(realRate([...Array(12).fill(2), ...Array(12).fill(0)], 60)).toBeNull();
  });
});

describe("finding a frame by time", () => {
  const times = [0, 0.5, 1, 2];
  it("takes the nearest, the one on show, or the first from a time on", () => {
    expect([-1, 0.24, 0.26, 1.6, 9].map((timeS) => nearestIndex(times, timeS))).toEqual([0, 0, 1, 3, 3]);
    expect([-1, 0.49, 0.5, 1.99, 9].map((timeS) => shownIndex(times, timeS))).toEqual([0, 0, 1, 2, 3]);
    expect([0, 0.1, 2, 2.1].map((timeS) => firstAtOrAfter(times, timeS))).toEqual([0, 1, 3, 4]);
    expect(nearestIndex([], 1)).toBe(-1);
  });
});
