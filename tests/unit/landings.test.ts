import { describe, expect, it } from "vitest";
import { findLandings } from "../../src/gait/landings.ts";
import {
  compareLandings,
  type SimulatedDog,
  simulateEvidence,
  steadyTrot,
  steadyWalk,
} from "../simulated-evidence.ts";

function tally(dog: SimulatedDog, seeds: number) {
  const sum = { matched: 0, missed: 0, invented: 0, wrongSide: 0, errorsM: [] as number[], passes: 0 };
  for (let seed = 1; seed <= seeds; seed++) {
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
    // A foot already down in the first frame or still down in the last is real but not in the truth list.
    sum.invented += c.invented;
    sum.wrongSide += c.wrongSide;
    sum.errorsM.push(...c.errorsM);
  }
  const sorted = sum.errorsM.map(Math.abs).sort((a, b) => a - b);
  return { ...sum, p95M: sorted[Math.floor(0.95 * (sorted.length - 1))] ?? Number.NaN };
}

describe("landings of simulated dogs", () => {
  for (const [name, dog] of [
    ["trot", steadyTrot],
    ["walk", steadyWalk],
    ["trot 30", { ...steadyTrot, fps: 30 }],
    ["trot 240", { ...steadyTrot, fps: 240 }],
    ["walk30", { ...steadyWalk, fps: 30 }],
    ["trot noisy", { ...steadyTrot, missing: 0.3, invented: 0.1, jitterM: 0.02, confused: 0.2 }],
    ["walk noisy", { ...steadyWalk, missing: 0.3, invented: 0.1, jitterM: 0.02, confused: 0.2 }],
    ["walk back", { ...steadyWalk, direction: -1 }],
    ["small trot", { ...steadyTrot, stepM: 0.25, speedMps: 1.2, bodyM: 0.5 }],
    [
      "pace",
      { ...steadyTrot, limbPhase: 0.03, stepM: 0.35, speedMps: 1.13, dutyFactor: 0.5, understepM: -0.19 },
    ],
  ] as [string, SimulatedDog][]) {
    it(name, () => {
      const t0 = performance.now();
      const t = tally(dog, 20);
      console.log(name, { ...t, errorsM: undefined, ms: (performance.now() - t0) / 20 });
      expect(t.passes).toBe(20);
    });
  }
});
