import { describe, expect, test } from "vitest";
import { judge } from "../../src/spacing/judge.ts";
import type { VerdictKind } from "../../src/spacing/types.ts";
import { ordinary, type SimulatedSession, simulateSession } from "../simulated-sessions.ts";

/** The full tables are `npm run bench -- verdicts`; this keeps its goals from slipping unseen. */
const SESSIONS = 300;

function measure(session: Partial<SimulatedSession>) {
  const said: Partial<Record<VerdictKind, number>> = {};
  let covered = 0;
  let offM = 0;
  for (let seed = 1; seed <= SESSIONS; seed++) {
    const { request, trueStepM } = simulateSession({ ...ordinary, ...session }, 1_000_003 * seed);
    const { verdict } = judge(request, { resamples: 20 });
    said[verdict.kind] = (said[verdict.kind] ?? 0) + 1;
    const [low, high] = verdict.intervalM ?? [0, 0];
    if (low <= trueStepM && trueStepM <= high) covered++;
    offM += ((verdict.fitSpacingM ?? 0) - trueStepM) / SESSIONS;
  }
  const share = (...kinds: VerdictKind[]) =>
    kinds.reduce((sum, kind) => sum + (said[kind] ?? 0), 0) / SESSIONS;
  return { share, coverage: covered / SESSIONS, biasM: offM };
}

// Bounds are the goals less three standard errors of 300 sessions.
describe("five gaps, three passes, 4 % scatter, landings missed, invented and swapped", () => {
  test("5 % too close and 5 % too far apart are called so, and never the other way round", () => {
    const close = measure({ spacingError: -0.05 });
    expect(close.share("too-close")).toBeGreaterThan(0.91);
    expect(close.share("too-far", "two-steps")).toBe(0);
    const far = measure({ spacingError: 0.05 });
    expect(far.share("too-far")).toBeGreaterThan(0.91);
    expect(far.share("too-close", "stepped-over")).toBe(0);
  });

  test("a fitting row fits; the interval holds the truth 93 to 97 times in 100, without bias", () => {
    const fits = measure({});
    expect(fits.share("fits", "fits-move-start")).toBeGreaterThan(0.91);
    expect(fits.coverage).toBeGreaterThan(0.91);
    expect(fits.coverage).toBeLessThan(0.99);
    expect(Math.abs(fits.biasM)).toBeLessThan(0.002);
  });
});

test("rows far off are named even with landings missing on every second step or so", () => {
  const wide = measure({ spacingError: 0.95, missed: 0.1 });
  expect(wide.share("two-steps")).toBeGreaterThan(0.95);
  const tight = measure({ spacingError: -0.48, missed: 0.1 });
  expect(tight.share("stepped-over")).toBeGreaterThan(0.85);
  expect(tight.share("fits", "fits-move-start", "too-far", "two-steps")).toBe(0);
});

test("a third of the landings missed does not turn a fitting row into one stepped over", () => {
  const poor = measure({ missed: 0.33, invented: 0.05, swapped: 0.1 });
  expect(poor.share("stepped-over", "two-steps")).toBeLessThan(0.01);
  expect(poor.share("too-close", "too-far")).toBeLessThan(0.06);
});
