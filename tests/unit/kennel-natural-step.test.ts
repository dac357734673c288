import { describe, expect, it } from "vitest";
import { type Going, simulatePasses } from "../../src/app/kennel/example-passes.ts";
import { naturalStep } from "../../src/app/kennel/natural-step.ts";
import type { ClipRecord } from "../../src/store/types.ts";
import { clipDraft } from "./store-records.ts";

const going: Going = {
  layout: { gapsM: [3], heightsM: [0, 0], targetFractions: [0.5] },
  gait: "trot",
  freeStepM: 0.47,
  rowStepM: 0.47,
  speedMps: 1.6,
  scatter: 0.03,
  startFraction: 0.1,
  unevenness: 0,
  passes: 4,
  seed: 11,
};

function clip(change: Partial<Going> = {}): ClipRecord {
  return {
    ...clipDraft("s"),
    id: "c",
    addedAt: 0,
    changedAt: 0,
    editedPasses: simulatePasses({ ...going, ...change }),
  };
}

describe("the natural step", () => {
  it("is read from bare ground, both ways, with an interval that holds the truth", () => {
    const natural = naturalStep([clip()])!;
    expect(natural.passes).toBe(4);
    expect(natural.stepM.n).toBeGreaterThan(20);
    expect(natural.stepM.value).toBeCloseTo(0.47, 2);
    expect(natural.stepM.interval[0]).toBeLessThan(0.47);
    expect(natural.stepM.interval[1]).toBeGreaterThan(0.47);
    expect(natural.speedMps).toBeCloseTo(1.6, 0);
  });

  it("leaves out passes set aside by hand", () => {
    const aside = clip();
    for (const pass of aside.editedPasses!.slice(1))
      aside.passChoices[pass.id] = { use: false, reason: "Stopped" };
    expect(naturalStep([aside])!.passes).toBe(1);
  });

  it("is not made up from too few steps", () => {
    const few = clip({ passes: 1 });
    few.editedPasses = few.editedPasses!.map((pass) => ({ ...pass, landings: pass.landings.slice(0, 3) }));
    expect(naturalStep([few])).toBeNull();
    expect(naturalStep([])).toBeNull();
  });
});
