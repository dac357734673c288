import { describe, expect, test } from "vitest";
import { leftOut } from "../bench/ground/left-out.ts";
import { VERDICT_CONDITIONS, verdictsUnder } from "../bench/ground/verdicts.ts";

describe("verdicts of random dogs over random cameras, a small size of the bench", () => {
  const under = (name: string) => verdictsUnder(VERDICT_CONDITIONS.find((c) => c.name === name)!, 21);

  test("square at hip height most spacings are told, and none wrongly for sure", () => {
    const tally = under("square");
    expect(tally.sureWrong).toBe(0);
    expect(tally.right).toBeGreaterThan(12);
  });

  test("from a hand's breadth above the ground it mostly can't tell, rather than be wrong for sure", () => {
    const tally = under("0.3 m high");
    expect(tally.sureWrong).toBe(0);
    expect(tally.cannotTell).toBeGreaterThan(12);
  });
});

test("what one homography a frame leaves out stays under 3 mm: rolling shutter, a lens with 5 % distortion", () => {
  const { nothing, rollingShutter, lens2Percent, lens5Percent } = leftOut();
  expect(nothing.largestCm).toBeLessThan(0.001);
  expect(rollingShutter.largestCm).toBeLessThan(0.05);
  expect(lens2Percent.largestCm).toBeLessThan(0.15);
  expect(lens5Percent.largestCm).toBeLessThan(0.3);
});
