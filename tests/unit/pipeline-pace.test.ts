import { describe, expect, it } from "vitest";
import type { FrameLook } from "../../src/pipeline/evidence.ts";
import { paceFor } from "../../src/pipeline/pace.ts";

/** Looks at a dog 200 pixels long that goes so many of its lengths a second, the last of them at `toS`. */
function looksAt(lengthsPerS: number, toS: number, everyS = 0.05): FrameLook[] {
  return Array.from({ length: Math.round(toS / everyS) + 1 }, (_, frame) => ({
    frame,
    timeS: frame * everyS,
    sighting: {
      box: { x: 100 + 200 * lengthsPerS * frame * everyS, y: 0, width: 200, height: 150 },
      dogScore: 1,
      cut: false,
      peaks: [],
    },
  }));
}

const STILL = { still: true, foreshortening: 0.2 };
const nobody: FrameLook = { frame: 0, timeS: 0, sighting: null };

describe("how often to look", () => {
  it("is about four times in a stance, whatever the dog's speed", () => {
    // A Labrador walks 0.75 m/s on hind feet that stand 0.56 s (Light et al. 2010), about 1.05 m nose to rump.
    expect(paceFor(looksAt(0.75 / 1.05, 1), STILL).looks * 0.56).toBeGreaterThanOrEqual(3.5);
    // A dog of 30 kg trots 2.2 m/s, a stride of 1.05 m, hind feet on the ground 40 % of it (general literature).
    const stanceS = (0.4 * 1.05) / 2.2;
    const trot = paceFor(looksAt(2.2 / 1.05, 1), STILL).looks;
    expect(trot * stanceS).toBeGreaterThanOrEqual(3.5);
    expect(trot).toBeLessThan(25);
  });

  it("grows with the dog's speed and never passes what a stance needs", () => {
    const rates = [0, 0.5, 1, 2, 3, 4, 8].map((speed) => paceFor(looksAt(speed, 1), STILL).looks);
    expect(rates).toEqual([...rates].sort((a, b) => a - b));
    expect(rates[0]).toBe(10);
    expect(rates.at(-1)).toBe(30);
  });

  it("is often until the dog's speed is known, seldom with nobody there", () => {
    expect(paceFor([], STILL).looks).toBe(10);
    expect(paceFor([nobody], STILL).looks).toBe(10);
    expect(paceFor(looksAt(1, 0.2), STILL).looks).toBe(20);
    expect(paceFor([...looksAt(1, 1), { ...nobody, timeS: 1.1 }], STILL).looks).toBe(10);
  });

  it("does not trust the speed that a moving camera shows", () => {
    expect(paceFor(looksAt(0.1, 1), { ...STILL, still: false }).looks).toBe(20);
    expect(paceFor([nobody], { ...STILL, still: false }).looks).toBe(20);
  });

  it("is twice as often from near the ground, where feet hide each other", () => {
    const [high, low] = [0.2, 0.08].map((foreshortening) =>
      paceFor(looksAt(1.5, 1), { still: true, foreshortening }),
    );
    expect(low!.looks).toBeGreaterThanOrEqual(1.8 * high!.looks);
  });

  it("has the ground pictured between the looks", () => {
    for (const speed of [0.5, 1.5, 2.5, 5]) {
      const { looks, strips } = paceFor(looksAt(speed, 1), STILL);
      expect(strips).toBe(2 * looks);
    }
  });
});
