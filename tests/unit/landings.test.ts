import { describe, expect, it } from "vitest";
import { findLandings } from "../../src/gait/landings.ts";
import {
  compareLandings,
  type SimulatedDog,
  simulateEvidence,
  steadyTrot,
  steadyWalk,
} from "../simulated-evidence.ts";

const DOGS = 20;

/** Runs the finder on many seeds and adds up what it got right and wrong about hind landings. */
function tally(dog: SimulatedDog) {
  const sum = { matched: 0, missed: 0, invented: 0, wrongSide: 0, errorsM: [] as number[], passes: 0 };
  for (let seed = 1; seed <= DOGS; seed++) {
    const { evidence, truth } = simulateEvidence({ ...dog, seed });
    const { passes } = findLandings(evidence);
    sum.passes += passes.length;
    const c = compareLandings(
      passes.flatMap((p) => p.landings),
      truth,
      "H",
    );
    sum.matched += c.matched;
    sum.missed += c.missed;
    sum.invented += c.invented;
    sum.wrongSide += c.wrongSide;
    sum.errorsM.push(...c.errorsM);
  }
  const sorted = sum.errorsM.map(Math.abs).sort((a, b) => a - b);
  return { ...sum, p95M: sorted[Math.floor(0.95 * (sorted.length - 1))] ?? Number.NaN };
}

const noise = { missing: 0.3, invented: 0.1, jitterM: 0.02, confused: 0.2 };

describe("hind landings of simulated dogs", () => {
  const conditions: [string, SimulatedDog, { missedShare: number; p95M: number }][] = [
    ["a steady trot at 60 frames a second", steadyTrot, { missedShare: 0.02, p95M: 0.015 }],
    ["a steady walk", steadyWalk, { missedShare: 0.02, p95M: 0.01 }],
    ["a trot at 30 frames a second", { ...steadyTrot, fps: 30 }, { missedShare: 0.02, p95M: 0.02 }],
    ["a trot at 240 frames a second", { ...steadyTrot, fps: 240 }, { missedShare: 0.02, p95M: 0.01 }],
    ["a walk at 30 frames a second", { ...steadyWalk, fps: 30 }, { missedShare: 0.02, p95M: 0.015 }],
    ["a walk the other way", { ...steadyWalk, direction: -1 }, { missedShare: 0.02, p95M: 0.01 }],
    [
      "a small dog at a quick trot",
      { ...steadyTrot, stepM: 0.25, speedMps: 1.2, bodyM: 0.5 },
      { missedShare: 0.02, p95M: 0.015 },
    ],
    [
      "a pace with overstep",
      { ...steadyTrot, limbPhase: 0.03, stepM: 0.35, speedMps: 1.13, dutyFactor: 0.5, understepM: -0.19 },
      { missedShare: 0.02, p95M: 0.015 },
    ],
    [
      "a trot with a third of sightings missing, a tenth false, 2 cm of jitter, a fifth confused",
      { ...steadyTrot, ...noise },
      { missedShare: 0.15, p95M: 0.03 },
    ],
    ["a walk with the same noise", { ...steadyWalk, ...noise }, { missedShare: 0.05, p95M: 0.02 }],
  ];
  it.each(conditions)("are found, in place, with few missed: %s", (_name, dog, limit) => {
    const t = tally(dog);
    expect(t.passes).toBe(DOGS);
    expect(t.missed / (t.matched + t.missed)).toBeLessThanOrEqual(limit.missedShare);
    expect(t.p95M).toBeLessThanOrEqual(limit.p95M);
    expect(t.wrongSide / t.matched).toBeLessThanOrEqual(0.05);
    // One landing at either end of the clip is cut off by it: real, but not in the list of whole landings.
    expect(t.invented).toBeLessThanOrEqual(2 * DOGS);
  });

  it("do not appear where a dog-sized thing glides through without feet", () => {
    const { evidence } = simulateEvidence({ ...steadyTrot, missing: 1 });
    const { passes, setAside } = findLandings({ ...evidence, candidates: [] });
    expect(passes).toEqual([]);
    expect(setAside[0]?.reason).toMatch(/no paw/);
  });

  it("mirror when the dog goes the other way: same places, same feet by name", () => {
    const there = simulateEvidence(steadyWalk);
    const mirrored = {
      ...there.evidence,
      candidates: there.evidence.candidates.map((c) => ({ ...c, xM: -c.xM })),
      body: there.evidence.body.map((b) => ({ ...b, xM: -b.xM })),
      xRunsRight: false,
    };
    const a = findLandings(there.evidence).passes[0]!;
    const b = findLandings(mirrored).passes[0]!;
    expect(b.direction).toBe(-1);
    expect(b.landings.map((l) => l.paw)).toEqual(a.landings.map((l) => l.paw));
    b.landings.forEach((l, i) => {
      expect(l.onS).toBeCloseTo(a.landings[i]!.onS, 9);
      expect(l.xM).toBeCloseTo(-a.landings[i]!.xM, 9);
    });
  });

  it("lie where the feet stood, whatever lengths ahead of them single looks speak of", () => {
    for (const direction of [1, -1] as const) {
      const { evidence } = simulateEvidence({ ...steadyTrot, direction });
      const aheadOf = (k: number) => [undefined, 0, 0.006, 0.02][k % 4];
      const spokenOf = {
        ...evidence,
        candidates: evidence.candidates.map((c, k) => ({
          ...c,
          xM: c.xM + (aheadOf(k) ?? 0) * direction,
          aheadM: aheadOf(k),
        })),
      };
      const [plain, found] = [evidence, spokenOf].map((e) =>
        findLandings(e).passes.flatMap((p) => p.landings),
      );
      expect(plain!.length).toBeGreaterThan(10);
      expect(found!.map((l) => l.paw)).toEqual(plain!.map((l) => l.paw));
      found!.forEach((l, i) => {
        expect(l.xM).toBeCloseTo(plain![i]!.xM, 9);
      });
    }
  });

  it("of two passes with a turn between them are kept apart", () => {
    const out = simulateEvidence(steadyTrot);
    const back = simulateEvidence({ ...steadyTrot, direction: -1, seed: 2 });
    const laterS = out.evidence.frameTimesS.at(-1)! + 3;
    const offset = out.evidence.frameTimesS.length;
    const { passes } = findLandings({
      frameTimesS: [...out.evidence.frameTimesS, ...back.evidence.frameTimesS.map((t) => t + laterS)],
      candidates: [
        ...out.evidence.candidates,
        ...back.evidence.candidates.map((c) => ({
          ...c,
          xM: c.xM + steadyTrot.wayM,
          timeS: c.timeS + laterS,
          frame: c.frame + offset,
        })),
      ],
      body: [
        ...out.evidence.body,
        ...back.evidence.body.map((b) => ({
          ...b,
          xM: b.xM + steadyTrot.wayM,
          timeS: b.timeS + laterS,
          frame: b.frame + offset,
        })),
      ],
      xRunsRight: true,
    });
    expect(passes.map((p) => p.direction)).toEqual([1, -1]);
  });
});
