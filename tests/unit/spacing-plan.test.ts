import { describe, expect, test } from "vitest";
import { aims, hindPerGap } from "../../src/spacing/aims.ts";
import { cautions, gatesOf, generalCautions } from "../../src/spacing/cautions.ts";
import { cordMarks } from "../../src/spacing/cord.ts";
import { judge } from "../../src/spacing/judge.ts";
import { lengthText, limitedMove, roundToTape, tapeText } from "../../src/spacing/lengths.ts";
import { ladder, nextLayout } from "../../src/spacing/next.ts";
import { type BodyMeasures, startingSpacing } from "../../src/spacing/start.ts";
import type { AimId, Judgement, Layout } from "../../src/spacing/types.ts";
import { ordinary, simulateSession } from "../simulated-sessions.ts";

const juniper: BodyMeasures = {
  shoulderM: 0.43,
  withersM: 0.56,
  bodyLengthM: 0.88,
  elbowM: 0.3,
  carpusM: 0.12,
  hockM: 0.15,
};
const unmeasured: BodyMeasures = {
  shoulderM: null,
  withersM: null,
  bodyLengthM: null,
  elbowM: null,
  carpusM: null,
  hockM: null,
};

describe("where to begin", () => {
  test("walk from the point of the shoulder, trot from the withers", () => {
    expect(startingSpacing(juniper, "walk", "first-poles").spacingM).toBeCloseTo(0.43, 9);
    expect(startingSpacing(juniper, "trot", "first-poles").spacingM).toBeCloseTo(0.56, 9);
    expect(startingSpacing(juniper, "trot", "first-poles").heightM).toBe(0);
  });

  test("short legs trot from twice the elbow", () => {
    const low = { ...juniper, withersM: 0.28, elbowM: 0.15 };
    const start = startingSpacing(low, "trot", "first-poles", { shortLegged: true });
    expect(start.spacingM).toBeCloseTo(0.3, 9);
    expect(start.reasons.join(" ")).toMatch(/twice the height of the elbow/);
  });

  test("one pole at a time from one and a half body lengths", () => {
    expect(startingSpacing(juniper, "walk", "one-at-a-time").spacingM).toBeCloseTo(1.32, 9);
  });

  test("without the shoulder a walk starts from three quarters of the withers", () => {
    const start = startingSpacing({ ...juniper, shoulderM: null }, "walk", "first-poles");
    expect(start.spacingM).toBeCloseTo(0.43, 9);
    expect(start.reasons[0]).toMatch(/three quarters of the withers/);
  });

  test("a step measured over bare ground says more than any body measure", () => {
    const ownStep = { stepM: 0.447, intervalM: [0.44, 0.454] as const };
    const start = startingSpacing(juniper, "walk", "first-poles", { ownStep });
    expect(start.spacingM).toBeCloseTo(0.45, 9);
    expect(start.reasons[0]).toMatch(
      /own step at a walk.*bare ground: 44\.7 cm \(95 % interval 44\.0 to 45\.4 cm\)/,
    );
    expect(startingSpacing(unmeasured, "trot", "higher-lift", { ownStep }).spacingM).toBeCloseTo(0.42, 9);
    // All four feet in every gap go by the body, whatever the step.
    expect(startingSpacing(juniper, "walk", "one-at-a-time", { ownStep }).spacingM).toBeCloseTo(1.32, 9);
  });

  test("a missing measure is asked for, never guessed", () => {
    for (const aim of ["first-poles", "one-at-a-time"] as const) {
      const start = startingSpacing(unmeasured, "walk", aim);
      expect(start.spacingM).toBeNull();
      expect(start.reasons[0]).toMatch(/^Measure /);
    }
  });

  test("higher lift begins closer, at the carpus, and never above hock or elbow", () => {
    const start = startingSpacing(juniper, "trot", "higher-lift");
    expect(start.spacingM).toBeCloseTo(0.53, 9);
    expect(start.heightM).toBeCloseTo(0.12, 9);
    expect(start.ceilingM).toBe(0.15);
    const lowHock = startingSpacing({ ...juniper, hockM: 0.1 }, "trot", "higher-lift");
    expect(lowHock.heightM).toBeCloseTo(0.1, 9);
    expect(lowHock.reasons.join(" ")).toMatch(/no higher than the hock/);
  });

  test("every start says that it is a start only", () => {
    for (const id of Object.keys(aims) as AimId[]) {
      expect(startingSpacing(juniper, "walk", id).reasons.join(" ")).toMatch(/A start only/);
    }
  });
});

describe("the next row", () => {
  function judged(spacingError: number): { judgement: Judgement; layout: Layout } {
    const { request } = simulateSession({ ...ordinary, scatter: 0.01, missed: 0, spacingError }, 12);
    return { judgement: judge(request), layout: request.layout };
  }

  test("a row that is too close is widened to the verdict's spacing", () => {
    const { judgement, layout } = judged(-0.08);
    const next = nextLayout(judgement, layout, "first-poles", { gait: "trot" });
    expect(next.layout.gapsM).toEqual(layout.gapsM.map(() => judgement.verdict.spacingM));
    expect(next.reasons[0]).toMatch(/From 41 cm to 4[56] cm: poles were too close/);
  });

  test("a row that fits stays for beginners, and moves a rung for longer reach", () => {
    const { judgement, layout } = judged(0);
    expect(judgement.verdict.kind).toBe("fits");
    expect(nextLayout(judgement, layout, "first-poles", { gait: "trot" }).layout).toBe(layout);
    const reach = nextLayout(judgement, layout, "longer-reach", { gait: "trot" });
    expect(reach.layout.gapsM[0]).toBeCloseTo(0.46, 2);
    expect(reach.reasons[0]).toMatch(/of its own step/);
    const beyond = { ...layout, gapsM: layout.gapsM.map(() => 0.53) };
    expect(nextLayout(judgement, beyond, "longer-reach", { gait: "trot" }).reasons[0]).toMatch(/goal/);
  });

  test("higher lift raises the poles before it moves them closer, and stops at the hock", () => {
    const { judgement, layout } = judged(0);
    const row = { ...layout, heightsM: layout.gapsM.map(() => 0.12).concat(0.12) };
    const raised = nextLayout(judgement, row, "higher-lift", { gait: "trot", measures: juniper });
    expect(raised.layout.heightsM.every((h) => Math.abs(h - 0.14) < 1e-9)).toBe(true);
    expect(raised.layout.gapsM).toEqual(row.gapsM);
    const top = { ...row, heightsM: row.heightsM.map(() => 0.15) };
    const closer = nextLayout(judgement, top, "higher-lift", { gait: "trot", measures: juniper });
    expect(closer.layout.heightsM).toEqual(top.heightsM);
    expect(closer.layout.gapsM[0]!).toBeLessThan(top.gapsM[0]!);
  });

  test("careful feet change one gap at a time", () => {
    const { judgement, layout } = judged(0);
    const next = nextLayout(judgement, layout, "careful-feet", { gait: "trot" });
    expect(next.layout.gapsM.filter((g, i) => g !== layout.gapsM[i]).length).toBe(1);
  });

  test("knocked poles hold the row where it is", () => {
    const { judgement, layout } = judged(0);
    judgement.passes[0]!.knocks = [1];
    expect(nextLayout(judgement, layout, "longer-reach", { gait: "trot" }).layout).toBe(layout);
  });

  test("what was seen and no film shows holds the row too, but not a correction", () => {
    const hold = "It was tired: same row.";
    const { judgement, layout } = judged(0);
    const held = nextLayout(judgement, layout, "longer-reach", { gait: "trot", hold });
    expect(held).toEqual({ layout, reasons: [hold] });
    const close = judged(-0.08);
    const next = nextLayout(close.judgement, close.layout, "longer-reach", { gait: "trot", hold });
    expect(next.layout.gapsM[0]).toBe(close.judgement.verdict.spacingM);
  });

  test("shares of the step are shares of the step over bare ground, where that was measured", () => {
    const { judgement, layout } = judged(0);
    const options = { gait: "trot", ownStepM: 0.4 } as const;
    // 45 cm are 113 % of 40 cm: one more centimetre reaches the goal of 115 %.
    const next = nextLayout(judgement, layout, "longer-reach", options);
    expect(next.layout.gapsM[0]).toBeCloseTo(0.46, 9);
    expect(next.reasons[0]).toMatch(/115 % of its own step \(40 cm\)/);
    const goal = { ...layout, gapsM: layout.gapsM.map(() => 0.46) };
    expect(nextLayout(judgement, goal, "longer-reach", options).reasons[0]).toMatch(
      /goal of this aim is reached/,
    );
  });

  test("an unread row stays", () => {
    const { layout, judgement } = judged(0);
    const unread = { ...judgement, verdict: { ...judgement.verdict, kind: "cannot-tell" as const } };
    expect(nextLayout(unread, layout, "longer-reach", { gait: "trot" }).layout).toBe(layout);
  });

  test("ladders lead from the start to the goal in small rungs", () => {
    const reach = ladder(0.45, "longer-reach");
    expect(reach[0]!.share).toBe(1);
    expect(reach.at(-1)!.share).toBeCloseTo(1.15, 9);
    for (let i = 1; i < reach.length; i++) {
      expect(reach[i]!.spacingM - reach[i - 1]!.spacingM).toBeLessThanOrEqual(0.025);
    }
    expect(ladder(0.45, "higher-lift").at(-1)!.share).toBeCloseTo(0.85, 9);
    expect(ladder(0.45, "first-poles")).toEqual([{ spacingM: 0.45, share: 1 }]);
    expect(ladder(0.45, "one-at-a-time")).toEqual([]);
  });

  test("only one aim wants all feet in each gap", () => {
    const all = (Object.keys(aims) as AimId[]).filter((id) => hindPerGap(id) === 2);
    expect(all).toEqual(["one-at-a-time"]);
  });
});

describe("the cord", () => {
  test("one mark for an even row, numbered ones for an uneven row, one mark for two dogs alike", () => {
    const { marks, warnings } = cordMarks([
      { letters: "B", gapsM: [0.45, 0.45, 0.45] },
      { letters: "J", gapsM: [0.452, 0.452] },
      { letters: "O", gapsM: [0.3, 0.36, 0.3] },
    ]);
    expect(marks.map((m) => m.letters)).toEqual([["O1"], ["O2"], ["B", "J"]]);
    expect(warnings).toEqual([]);
  });

  test("marks under 2 cm apart are named", () => {
    const { warnings } = cordMarks([
      { letters: "B", gapsM: [0.45] },
      { letters: "W", gapsM: [0.435] },
    ]);
    expect(warnings).toEqual(["W and B lie only 1.5 cm apart on the cord: use two colours."]);
  });
});

describe("lengths in words", () => {
  test.each([
    [0.038, "cm", "3.8 cm"],
    [-0.038, "cm", "−3.8 cm"],
    [-0.0001, "cm", "0.0 cm"],
    [0.0381, "in", "1.5 in"],
  ] as const)("%d m in %s is %s", (m, units, text) => {
    expect(lengthText(m, units)).toBe(text);
  });

  test.each([
    [0.4445, "in", "17½ in"],
    [0.0127, "in", "½ in"],
    [0.4572, "in", "18 in"],
    [0.45, "cm", "45 cm"],
  ] as const)("%d m laid in %s is %s", (m, units, text) => {
    expect(tapeText(m, units)).toBe(text);
  });

  test("moves are limited, rounded, and never rounded past the limit", () => {
    expect(limitedMove(0.45, 0.47, "cm")).toEqual({ spacingM: 0.47, limited: false });
    expect(limitedMove(0.45, 0.7, "cm")).toEqual({ spacingM: 0.49, limited: true });
    expect(limitedMove(0.9, 0.5, "cm")).toEqual({ spacingM: 0.85, limited: true });
    expect(limitedMove(0.2, 0.3, "in").spacingM - 0.2).toBeLessThanOrEqual(0.02);
    // A very short row can still move by the smallest amount a tape shows.
    expect(limitedMove(0.08, 0.1, "cm").spacingM).toBeCloseTo(0.09, 9);
    expect(roundToTape(0.4449, "in")).toBeCloseTo(0.4445, 9);
  });
});

describe("cautions", () => {
  test("surgery, nerves, growth and heart wait for the veterinarian; heat does not", () => {
    expect(gatesOf(["heat", "surgery", "growing"]).map((c) => c.id)).toEqual(["surgery", "growing"]);
    expect(cautions.neurologic.needsClearance && cautions.heart.needsClearance).toBe(true);
  });

  test("no caution names a number of weeks, and all defer to the veterinarian", () => {
    const words = [...generalCautions, ...Object.values(cautions).map((c) => c.sentence)].join(" ");
    expect(words).not.toMatch(/\bweeks?\b/);
    expect(words).toMatch(/not a diagnosis/);
    expect(words).toMatch(/Call the veterinarian/);
  });
});
