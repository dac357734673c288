import { describe, expect, it } from "vitest";
import { type Going, simulatePasses } from "../../src/app/kennel/example-passes.ts";
import { readNaturalStep } from "../../src/spacing/natural-step.ts";

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

const passes = (change: Partial<Going> = {}) => simulatePasses({ ...going, ...change });

describe("the natural step", () => {
  it("is read from bare ground, both ways, with an interval that holds the truth", () => {
    const { stepM, speedMps, sentence, evidence } = readNaturalStep({ passes: passes(), gait: "trot" });
    expect(stepM!.n).toBeGreaterThan(20);
    expect(stepM!.value).toBeCloseTo(0.47, 2);
    expect(stepM!.interval[0]).toBeLessThan(0.47);
    expect(stepM!.interval[1]).toBeGreaterThan(0.47);
    expect(speedMps!.value).toBeCloseTo(1.6, 0);
    expect(sentence).toMatch(/own step at a trot is 4\d\.\d cm, at 1\.\d\d m\/s/);
    expect(evidence).toMatch(/from \d+ hind steps in 4 passes over bare ground/);
  });

  it("is no better known than the camera's lengths", () => {
    const scaleSe = Object.fromEntries(passes().map(({ id }) => [id, 0.02]));
    const { stepM } = readNaturalStep({ passes: passes(), gait: "trot", scaleSe });
    expect(stepM!.interval[1] - stepM!.value).toBeGreaterThan(1.96 * 0.02 * stepM!.value);
  });

  it("is given for each pass too", () => {
    const found = readNaturalStep({ passes: passes(), gait: "trot" });
    for (const pass of found.passes) {
      expect(pass.used).toBe(true);
      expect(pass.stepM!.value).toBeCloseTo(0.47, 1);
    }
  });

  it("tells the left and the right step of a dog that goes unevenly", () => {
    const { leftRight } = readNaturalStep({ passes: passes({ unevenness: 0.1 }), gait: "trot" });
    expect(leftRight!.differencePercent.value).toBeGreaterThan(5);
    expect(leftRight!.sentence).toMatch(/right hind foot are \d+ % longer/);
  });

  it("leaves out passes set aside by hand, at another gait or another speed, each with its reason", () => {
    const all = passes({ passes: 6 });
    all[1]!.gait = "canter";
    all[2]!.speedMps = 2.4;
    const decisions = { [all[0]!.id]: { use: false, reason: "Stopped" } };
    const found = readNaturalStep({ passes: all, gait: "trot", decisions });
    expect(found.passes.map((pass) => pass.used)).toEqual([false, false, false, true, true, true]);
    expect(found.passes[0]!.setAside).toBe("Set aside by hand: Stopped.");
    expect(found.passes[1]!.setAside).toMatch(/cantered/);
    expect(found.passes[2]!.setAside).toMatch(/faster/);
    const kept = readNaturalStep({
      passes: all,
      gait: "trot",
      decisions: { [all[2]!.id]: { use: true, reason: "" } },
    });
    expect(kept.passes[2]).toMatchObject({ used: true, setAside: null });
    expect(kept.passes[2]!.keptDespite).toMatch(/faster/);
  });

  it("asks for the other way where all passes went one way", () => {
    const oneWay = passes({ passes: 6 }).filter((pass) => pass.direction === 1);
    expect(readNaturalStep({ passes: oneWay, gait: "trot" }).nextTime).toMatch(/the other way too/);
  });

  it("is not made up from too few steps", () => {
    const few = passes({ passes: 1 }).map((pass) => ({ ...pass, landings: pass.landings.slice(0, 3) }));
    expect(readNaturalStep({ passes: few, gait: "trot" }).stepM).toBeNull();
    const none = readNaturalStep({ passes: [], gait: "trot" });
    expect(none.stepM).toBeNull();
    expect(none.sentence).toMatch(/No natural step yet/);
  });
});
