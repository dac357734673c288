import { describe, expect, it } from "vitest";
import { type Going, simulatePasses } from "../../src/app/kennel/example-passes.ts";
import { NO_MEASURES } from "../../src/app/kennel/measures.ts";
import { makeRow, USUAL_ROW } from "../../src/app/kennel/rows.ts";
import { aims } from "../../src/spacing/aims.ts";
import { judge } from "../../src/spacing/judge.ts";
import { readNaturalStep } from "../../src/spacing/natural-step.ts";
import { ladder } from "../../src/spacing/next.ts";
import { poleCeiling, startingSpacing } from "../../src/spacing/start.ts";
import { polePlaces } from "../../src/spacing/travel.ts";

const INCH = 0.0254;

/** A dog or horse that goes steadily over a row, every step alike. */
function steady(gapM: number, gaps: number, stepM: number, gait: "walk" | "trot" = "trot"): Going {
  return {
    layout: makeRow({ ...USUAL_ROW, poles: gaps + 1, spacingM: gapM }),
    gait,
    freeStepM: stepM,
    rowStepM: stepM,
    speedMps: 3.2 * stepM,
    scatter: 0.01,
    startFraction: 0.5 * (stepM / gapM),
    unevenness: 0,
    passes: 4,
    seed: 3,
  };
}

function judged(going: Going) {
  return judge({
    layout: going.layout,
    passes: simulatePasses(going),
    aim: "first-poles",
    gait: going.gait,
  });
}

describe("where a row begins, against published guidance", () => {
  it("at a trot: floor to withers, so a 24-inch dog begins at 24 inches", () => {
    // corepawtential.com/straight-line-cavaletti (practice): 24 in dog, 24 in spacing.
    const start = startingSpacing({ ...NO_MEASURES, withersM: 24 * INCH }, "trot", "first-poles", {
      units: "in",
    });
    expect(start.spacingM).toBeCloseTo(24 * INCH, 3);
  });

  it("at a trot on short legs: twice the elbow, so 6 inches of elbow begin at 12", () => {
    // corepawtential.com/straight-line-cavaletti (practice): 6 in elbow, 12 in spacing.
    const start = startingSpacing(
      { ...NO_MEASURES, elbowM: 6 * INCH, withersM: 10 * INCH },
      "trot",
      "first-poles",
      {
        shortLegged: true,
        units: "in",
      },
    );
    expect(start.spacingM).toBeCloseTo(12 * INCH, 3);
  });

  it("at a walk: the height of the shoulder, over six rails", () => {
    // cliniciansbrief.com, 5 essential therapeutic exercises for dogs with osteoarthritis: six rails, shoulder height.
    const start = startingSpacing({ ...NO_MEASURES, shoulderM: 0.45 }, "walk", "first-poles");
    expect(start.spacingM).toBeCloseTo(0.45, 3);
    expect(USUAL_ROW.poles).toBe(6);
  });

  it("at a walk is near half the stride of walking Labradors", () => {
    // Light VA et al. Am J Vet Res 2010;71:997: stride 0.884 m; breed standard withers 0.546 to 0.622 m.
    for (const withersM of [0.546, 0.622]) {
      const start = startingSpacing({ ...NO_MEASURES, withersM }, "walk", "first-poles");
      expect(Math.abs(start.spacingM! - 0.884 / 2)).toBeLessThan(0.05);
    }
  });

  it("for weak dogs: 1.5 times nose to tail base", () => {
    // Common practice, no source.
    const start = startingSpacing({ ...NO_MEASURES, bodyLengthM: 0.8 }, "walk", "one-at-a-time");
    expect(start.spacingM).toBeCloseTo(1.2, 3);
  });

  it("never puts a walk pole above the elbow nor a trot pole above the hock", () => {
    // the-balanced-dog.com (walk, elbow) and corepawtential.com (trot, hock): practice.
    const body = { ...NO_MEASURES, withersM: 0.5, shoulderM: 0.42, elbowM: 0.27, carpusM: 0.2, hockM: 0.14 };
    expect(poleCeiling(body, "walk")).toBe(0.27);
    expect(poleCeiling(body, "trot")).toBe(0.14);
    for (const gait of ["walk", "trot"] as const) {
      for (const aim of Object.values(aims)) {
        expect(startingSpacing(body, gait, aim.id).heightM).toBeLessThanOrEqual(poleCeiling(body, gait)!);
      }
    }
  });

  it("for a longer reach: poles at half the height of the carpus", () => {
    // Zink MC, Van Dyke JB (eds). Canine Sports Medicine and Rehabilitation, 2nd ed., p. 193.
    const body = { ...NO_MEASURES, withersM: 0.5, carpusM: 0.12, hockM: 0.15 };
    expect(startingSpacing(body, "trot", "longer-reach").heightM).toBeCloseTo(0.06, 3);
  });
});

describe("spacing and stride, against measured animals", () => {
  it("a dog's trot: half of its stride fits, one hind foot in every gap", () => {
    // Motion-captured dog of motion_imitation (CC BY-NC 4.0 data): trot stride 0.965 m.
    const { verdict, passes, stepM } = judged(steady(0.48, 5, 0.965 / 2));
    expect(verdict.kind).toBe("fits");
    expect(passes[0]!.hindPerGap).toEqual([1, 1, 1, 1, 1]);
    expect(stepM!.value).toBeCloseTo(0.483, 2);
  });

  it("a row as wide as the whole stride gets each hind foot once in every gap", () => {
    const { passes } = judged(steady(0.965, 4, 0.965 / 2));
    expect(passes[0]!.hindPerGap).toEqual([2, 2, 2, 2]);
  });

  it("a walking Labrador fits half its stride, 44 cm", () => {
    // Light VA et al. Am J Vet Res 2010;71:997: stride 0.884 m at 0.60 to 0.90 m/s.
    const going = { ...steady(0.44, 5, 0.442, "walk"), speedMps: 0.75 };
    expect(judged(going).verdict.kind).toBe("fits");
  });

  it("a horse's trot and walk poles fit half of its working-trot and medium-walk stride", () => {
    // Clayton HM. Equine Vet J 1994;26:298 (trot stride 2.73 m) and 1995;27:36 (walk stride 1.87 m): from memory.
    // Poles at 4.5 ft and 3 ft: Certified Horsemanship Association (trot) and riders' practice (walk).
    expect(judged(steady(1.37, 5, 2.73 / 2)).verdict.kind).toBe("fits");
    expect(judged({ ...steady(0.914, 5, 1.87 / 2, "walk"), speedMps: 1.7 }).verdict.kind).toBe("fits");
  });

  it("the same row, 9 ft apart, has three walk, two trot and one canter footfall in each gap", () => {
    // Riders' "3-2-1" rule (practice; forums.horseandhound.co.uk, thread 600268): 0.914, 1.372 and 2.743 m a step.
    for (const [stepM, count] of [
      [0.914, 3],
      [1.372, 2],
      [2.743, 1],
    ] as const) {
      const { passes } = judged(steady(2.743, 4, stepM));
      expect(passes[0]!.hindPerGap).toEqual([count, count, count, count]);
    }
  });

  it("the natural step over bare ground is half the stride as well", () => {
    const going = { ...steady(3, 1, 0.884 / 2, "walk"), startFraction: 0.1 };
    const found = readNaturalStep({ passes: simulatePasses(going), gait: "walk" });
    expect(found.stepM!.value).toBeCloseTo(0.442, 2);
  });
});

describe("laying a row", () => {
  it("running distances add up the gaps: six poles 24 inches apart end at ten feet", () => {
    const places = polePlaces(makeRow({ ...USUAL_ROW, spacingM: 24 * INCH }).gapsM);
    expect(places.at(-1)).toBeCloseTo(120 * INCH, 9);
  });

  it("climbs towards a longer reach by small rungs, never more than 5 cm nor 5 % at once", () => {
    // Common practice, no source: 2 to 5 cm, or about 5 %.
    const rungs = ladder(0.48, "longer-reach");
    for (let i = 1; i < rungs.length; i++) {
      const rise = rungs[i]!.spacingM - rungs[i - 1]!.spacingM;
      expect(rise).toBeGreaterThan(0);
      expect(rise).toBeLessThanOrEqual(0.05 * 0.48 + 0.005);
    }
  });
});
