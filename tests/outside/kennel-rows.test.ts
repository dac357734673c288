import { describe, expect, it } from "vitest";
import { type Going, simulatePasses } from "../../src/app/kennel/example-passes.ts";
import { NO_MEASURES } from "../../src/app/kennel/measures.ts";
import { makeRow, USUAL_ROW } from "../../src/app/kennel/rows.ts";
import { aims } from "../../src/spacing/aims.ts";
import { cautions, gatesOf, generalCautions } from "../../src/spacing/cautions.ts";
import { judge } from "../../src/spacing/judge.ts";
import { limitedMove } from "../../src/spacing/lengths.ts";
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

  it("for a higher lift: poles at the height of the carpus, the lower of the two that are published", () => {
    // cliniciansbrief.com, 5 essential therapeutic exercises: carpus (stifle and tarsus flexion), elbow (elbow flexion);
    // collielife.com/Health/cavaletti: at wrist height, never above the elbow.
    const body = { ...NO_MEASURES, shoulderM: 0.42, elbowM: 0.27, carpusM: 0.11 };
    expect(startingSpacing(body, "walk", "higher-lift").heightM).toBeCloseTo(0.11, 3);
  });

  it("with four to six poles", () => {
    // corepawtential.com/straight-line-cavaletti and collielife.com/Health/cavaletti: 4 to 6 poles.
    expect(USUAL_ROW.poles).toBeGreaterThanOrEqual(4);
    expect(USUAL_ROW.poles).toBeLessThanOrEqual(6);
  });

  it("and goes on in small amounts: 2 to 5 cm, or about 5 %, at a time", () => {
    // Common practice, no source for the amounts; that they be small: corefitcanine.com, agilityfusion.com.
    for (const stepM of [0.3, 0.45, 0.6]) {
      for (const aim of Object.values(aims)) {
        const rungs = ladder(stepM, aim.id).map(({ spacingM }) => spacingM);
        for (let i = 1; i < rungs.length; i++) {
          expect(Math.abs(rungs[i]! - rungs[i - 1]!)).toBeLessThanOrEqual(0.05 * stepM + 0.005);
        }
      }
      for (const wanted of [0.5 * stepM, 0.97 * stepM, 1.03 * stepM, 2 * stepM]) {
        const { spacingM } = limitedMove(stepM, wanted, "cm");
        expect(Math.abs(spacingM - stepM)).toBeLessThanOrEqual(0.05 + 1e-9);
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

  it("a dog's pace: half of its stride fits as well", () => {
    // The same dog and data, pacing: stride 0.701 m.
    const { verdict, stepM } = judged(steady(0.35, 5, 0.701 / 2));
    expect(verdict.kind).toBe("fits");
    expect(stepM!.value).toBeCloseTo(0.351, 2);
  });

  it("a row that fits gets one fore and one hind foot in every gap", () => {
    // adogsports.com/blog/canine-fitness-fun (practice).
    const { passes } = judged(steady(0.48, 5, 0.48));
    for (const { landings } of passes) {
      const inGap = (gap: number, end: string) =>
        landings.filter((landing) => landing.gap === gap && landing.paw.endsWith(end)).length;
      expect([0, 1, 2, 3, 4].map((gap) => inGap(gap, "H"))).toEqual([1, 1, 1, 1, 1]);
      expect([0, 1, 2, 3, 4].map((gap) => inGap(gap, "F"))).toEqual([1, 1, 1, 1, 1]);
    }
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

describe("what is said before anyone lays a pole, against published guidance", () => {
  const said = generalCautions.join(" ");

  it("a veterinarian examines first", () => {
    // cliniciansbrief.com, 5 essential therapeutic exercises: a full orthopaedic examination comes first.
    expect(said).toMatch(/not a diagnosis and not a prescription. A veterinarian examines the dog first/);
    expect(gatesOf(["surgery", "neurologic", "growing", "heart", "heat"]).map(({ id }) => id)).toEqual([
      "surgery",
      "neurologic",
      "growing",
      "heart",
    ]);
    expect(cautions.neurologic.sentence).toMatch(/the veterinarian decides if, when and how/);
  });

  it("stop when legs lift less, the dog slows, toes drag, or it hops", () => {
    // roguevalleyvet.com, handout: the first three and hopping; the others are common practice, no source.
    for (const sign of ["legs lift less", "slows", "drags its toes", "hops", "pants hard", "refuses"]) {
      expect(said).toContain(sign);
    }
  });

  it("level ground that does not slip, poles that cannot roll, never a jump", () => {
    // corepawtential.com/straight-line-cavaletti: level non-slip floor, poles secured against rolling.
    expect(said).toMatch(
      /Level ground that doesn't slip. Poles that fall away and can't roll under a paw. Never a jump/,
    );
  });
});
