import { describe, expect, test } from "vitest";
import { leftOut } from "../bench/ground/left-out.ts";
import { passBefore } from "../bench/ground/passes.ts";
import { sessionsBefore } from "../bench/ground/sessions.ts";
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

test("sessions of whole passes, the dog's paws of another size: many told, none wrongly for sure", () => {
  const tally = sessionsBefore({ yawDeg: 0, heightM: 0.8 }, 21);
  expect(tally.sureWrong).toBe(0);
  expect(tally.right).toBeGreaterThan(10);
});

test("whole passes from 10° off square, taps drawn to the poles: within 2 cm, and within their own intervals", () => {
  const seen = Array.from({ length: 24 }, (_, k) => passBefore(10, 1, true, 7 * k + 1));
  const errors = seen.flatMap((pass) => pass.errors);
  const asked = seen.reduce((sum, pass) => sum + pass.asked, 0);
  expect(errors.length).toBeGreaterThan(0.9 * asked);
  const off = errors.map((e) => Math.abs(e.errorM)).sort((a, b) => a - b);
  expect(off[Math.floor(0.95 * off.length)]).toBeLessThan(0.02);
  expect(errors.filter((e) => Math.abs(e.errorM) < 1.96 * e.seM).length).toBeGreaterThan(0.9 * errors.length);
});

test("what one homography a frame leaves out stays under 3 mm: rolling shutter, a lens with 5 % distortion", () => {
  const { nothing, rollingShutter, lens2Percent, lens5Percent } = leftOut();
  expect(nothing.largestCm).toBeLessThan(0.001);
  expect(rollingShutter.largestCm).toBeLessThan(0.05);
  expect(lens2Percent.largestCm).toBeLessThan(0.15);
  expect(lens5Percent.largestCm).toBeLessThan(0.3);
});
