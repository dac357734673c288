import { describe, expect, it } from "vitest";
import { changeBetween } from "../../src/app/kennel/change.ts";
import { exampleRecords } from "../../src/app/kennel/examples.ts";
import {
  follow,
  followed,
  knocksOf,
  measured,
  speedBehindStep,
  speedSteps,
} from "../../src/app/kennel/progress.ts";
import { minimalDetectableChange } from "../../src/stats/reliability.ts";

const { sessions } = exampleRecords(Date.UTC(2026, 10, 25));
const juniper = followed(
  sessions.filter((session) => session.dogName === "Juniper"),
  "trot",
);
const [step] = measured("cm");

describe("a change between two sessions", () => {
  const at = (value: number, half: number) => ({
    value,
    interval: [value - half, value + half] as [number, number],
    n: 12,
  });

  it("is real only beyond what both intervals leave open together", () => {
    expect(changeBetween(at(47, 0.9), at(48.2, 1.2))).toEqual({
      difference: expect.closeTo(1.2, 9),
      smallest: expect.closeTo(1.5, 9),
      real: false,
    });
    expect(changeBetween(at(47, 0.9), at(48.6, 1.2)).real).toBe(true);
    expect(changeBetween(at(48.6, 0.9), at(47, 1.2)).real).toBe(true);
  });

  it("equals the minimal detectable change where both are measured equally well", () => {
    // SEM 1.5811 → 4.3827, as worked out from SD 5 and ICC 0.90 by Weir's formulas (J Strength Cond Res 2005;19:231).
    const sem = 5 * Math.sqrt(1 - 0.9);
    expect(changeBetween(at(0, 1.96 * sem), at(0, 1.96 * sem)).smallest).toBeCloseTo(
      minimalDetectableChange(sem),
      9,
    );
    expect(changeBetween(at(0, 1.96 * sem), at(0, 1.96 * sem)).smallest).toBeCloseTo(4.3827, 4);
  });

  it("takes the wider side of a lopsided interval, and calls nothing real when one is open", () => {
    const lopsided = { value: 10, interval: [9, 14] as [number, number], n: 5 };
    expect(changeBetween(lopsided, at(13, 0)).smallest).toBe(4);
    const open = { value: 10, interval: [Number.NEGATIVE_INFINITY, 14] as [number, number], n: 2 };
    expect(changeBetween(open, at(100, 1)).real).toBe(false);
  });
});

describe("following a dog", () => {
  it("takes the sessions of one gait that have a judgement, oldest first", () => {
    expect(juniper).toHaveLength(6);
    expect(juniper[0]!.date).toBeLessThan(juniper[5]!.date);
    expect(followed(sessions, "walk").every((session) => session.dogName === "Biscuit")).toBe(true);
  });

  it("names a change only beyond the noise, and never calls it better or worse", () => {
    const line = follow(juniper, step!)!;
    expect(line.points).toHaveLength(6);
    expect(line.sentence).toMatch(/^From first to last it changed by \+/);
    const still = follow(juniper.slice(1, 3), step!)!;
    expect(still.sentence).toMatch(/^No change that means anything/);
    for (const { sentence } of [line, still]) expect(sentence).not.toMatch(/better|worse|improve/i);
  });

  it("says that one session tells nothing yet", () => {
    expect(follow(juniper.slice(0, 1), step!)).toMatchObject({ noise: null, sentence: /nothing to compare/ });
    expect(follow([], step!)).toBeNull();
  });

  it("points at speed where a longer step goes with a faster dog", () => {
    expect(speedBehindStep(juniper[0]!, juniper[5]!)).toMatch(
      /faster: the longer step may be no more than that/,
    );
    expect(speedBehindStep(juniper[1]!, juniper[2]!)).toBeNull();
  });

  it("takes knocks counted by eye before those seen on film", () => {
    const [first] = juniper;
    expect(knocksOf(first!)).toBe(2);
    const passes = first!.judgement.passes.map((pass) => ({ ...pass, knocks: [1, 3] }));
    const unseen = { ...first!, knocksSeen: null, judgement: { ...first!.judgement, passes } };
    expect(knocksOf(unseen)).toBe(2 * passes.length);
  });

  it("gives every counted pass of the last session apart from the others", () => {
    const passes = speedSteps(juniper);
    expect(passes.filter((pass) => pass.newest)).toHaveLength(6);
    expect(passes).toHaveLength(34);
  });
});
