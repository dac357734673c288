import { describe, expect, it } from "vitest";
import { splitPasses } from "../../src/gait/passes.ts";

/** A body of 0.7 m that goes along the row at a steady speed, seen 30 times a second. */
function track(metres: number, speedMps: number) {
  const looks = Math.round((metres / speedMps) * 30) + 1;
  return Array.from({ length: looks }, (_, frame) => ({
    frame,
    timeS: frame / 30,
    xM: (frame * speedMps) / 30,
    lengthM: 0.7,
    score: 1,
  }));
}

describe("a track of the dog's body", () => {
  it("is a pass when it goes far enough", () => {
    expect(splitPasses(track(2, 1.8)).paths).toHaveLength(1);
  });

  it("is none when it ends after half a metre, and says why", () => {
    const { paths, setAside } = splitPasses(track(0.5, 0.8));
    expect(paths).toHaveLength(0);
    expect(setAside[0]?.reason).toBe("Too short a way to be a pass.");
  });

  it("is taken for one after half a metre while more is to come", () => {
    expect(splitPasses(track(0.5, 0.8), true).paths).toHaveLength(1);
  });

  it("is none where the dog stands, also while more is to come", () => {
    expect(splitPasses(track(0.1, 0.05), true).paths).toHaveLength(0);
  });
});
