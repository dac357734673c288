import { describe, expect, it } from "vitest";
import { chainStands } from "../../src/gait/chain.ts";
import type { Stand } from "../../src/gait/stands.ts";

const SPEED_MPS = 1.9;
const STEP_M = 0.475;
const STEP_S = STEP_M / SPEED_MPS;

function stand(xM: number, onS: number, strength: number): Stand {
  return {
    firstFrame: Math.round(60 * onS),
    lastFrame: Math.round(60 * (onS + 0.2)),
    onS,
    offS: onS + 0.2,
    xM,
    yM: 0.5,
    xSeM: 0.01,
    ySeM: 0.03,
    xPerY: 0,
    strength,
    frames: 12,
  };
}

/** Ten landings of a pair of feet; every second one stands `aheadM` farther and is seen with the given strength. */
function landings(aheadM: number, strength: number): Stand[] {
  return Array.from({ length: 10 }, (_, n) =>
    stand(n * STEP_M + (n % 2) * aheadM, n * STEP_S, n % 2 ? strength : 0.9),
  );
}

/** The far hind foot, half hidden and thrown well ahead: alone, the hind feet look like one foot of twice the step. */
const hind = { stands: landings(0.15, 0.45), timedBy: "lift-off" } as const;
const fore = { stands: landings(0, 0.9), timedBy: "touch-down" } as const;

describe("the feet of one dog", () => {
  it("take steps of one length behind and in front", () => {
    const chains = chainStands({ hind, fore }, 1, SPEED_MPS);
    expect(chains.fore.links).toHaveLength(10);
    expect(chains.hind.links).toHaveLength(10);
    expect(chains.hind.stepM).toBeCloseTo(STEP_M, 1);
    expect(chains.hind.links.map((l) => l.parity)).toEqual([0, 1, 0, 1, 0, 1, 0, 1, 0, 1]);
  });

  it("need each other for it: the hind feet alone seem to take every second step", () => {
    expect(chainStands({ hind }, 1, SPEED_MPS).hind.links).toHaveLength(5);
  });

  it("are read from the hind feet alone where the fore feet were not seen", () => {
    const bare = { ...hind, stands: landings(0, 0.9) };
    const chains = chainStands({ hind: bare, fore: { ...fore, stands: [] } }, 1, SPEED_MPS);
    expect(chains.hind.links).toHaveLength(10);
    expect(chains.fore.links).toEqual([]);
  });
});
