import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { lettersProblem, suggestLetters } from "../../src/app/kennel/letters.ts";
import { outOfReach, questionsOn } from "../../src/app/kennel/measures.ts";
import { changeRow, makeRow, polesThatFit, type RowRecipe, recipeOf } from "../../src/app/kennel/rows.ts";
import { dogDraft } from "./store-records.ts";

const recipe: RowRecipe = {
  shape: "even",
  poles: 6,
  spacingM: 0.48,
  widenM: 0.02,
  heightM: 0,
  everySecond: false,
  angleDeg: 0,
};

describe("rows", () => {
  it("are even, widen by the same from gap to gap, or never repeat a gap", () => {
    expect(makeRow(recipe).gapsM).toEqual([0.48, 0.48, 0.48, 0.48, 0.48]);
    expect(makeRow({ ...recipe, shape: "widening" }).gapsM).toEqual([0.48, 0.5, 0.52, 0.54, 0.56]);
    const uneven = makeRow({ ...recipe, shape: "uneven" });
    for (let i = 1; i < uneven.gapsM.length; i++) expect(uneven.gapsM[i]).not.toBe(uneven.gapsM[i - 1]);
    expect(new Set(uneven.targetFractions).size).toBeGreaterThan(1);
  });

  it("raise every pole, or every second one, and turn them to alternate sides", () => {
    expect(makeRow({ ...recipe, poles: 3, heightM: 0.1 }).heightsM).toEqual([0.1, 0.1, 0.1]);
    expect(makeRow({ ...recipe, poles: 4, heightM: 0.1, everySecond: true }).heightsM).toEqual([
      0, 0.1, 0, 0.1,
    ]);
    expect(makeRow({ ...recipe, poles: 3, angleDeg: 12 }).anglesDeg).toEqual([12, -12, 12]);
  });

  it("can be read back into what they were made from", () => {
    fc.assert(
      fc.property(
        fc.record({
          shape: fc.constantFrom("even" as const, "widening" as const),
          poles: fc.integer({ min: 3, max: 12 }),
          spacingM: fc.integer({ min: 15, max: 150 }).map((cm) => cm / 100),
          widenM: fc.integer({ min: 1, max: 20 }).map((cm) => cm / 100),
          heightM: fc.integer({ min: 1, max: 30 }).map((cm) => cm / 100),
          everySecond: fc.boolean(),
          angleDeg: fc.constantFrom(0, 12),
        }),
        (made) => {
          const read = recipeOf(makeRow(made));
          expect(read).toEqual({
            ...made,
            widenM: made.shape === "widening" ? expect.closeTo(made.widenM, 9) : 0.02,
          });
        },
      ),
    );
  });

  it("fit into the ground there is, with three steps to come and three to go", () => {
    // 5 gaps of 0.48 m and 6 steps of 0.48 m: 5.28 m.
    expect(polesThatFit(recipe, 5.28)).toBe(6);
    expect(polesThatFit(recipe, 5.27)).toBe(5);
    expect(polesThatFit(recipe, 1)).toBe(0);
    expect(polesThatFit(recipe, 100)).toBe(12);
  });
});

describe("a dog's letters", () => {
  const others = [{ name: "Juniper", letters: "JU" }];

  it("come from its name and stay clear of the others'", () => {
    expect(suggestLetters("Otto", others)).toBe("OT");
    expect(suggestLetters("Juno", others)).toBe("JN");
    expect(suggestLetters("", others)).toBe("");
    expect(suggestLetters("Ju", others)).toBe("J2");
    const many = ["J2", "J3"].map((letters) => ({ name: letters, letters }));
    expect(suggestLetters("Ju", [...others, ...many])).toBe("J4");
  });

  it("are pointed at when another dog has them", () => {
    expect(lettersProblem("ju", others)).toMatch(/Juniper already carries ju/);
    expect(lettersProblem("OT", others)).toBeNull();
    expect(lettersProblem("", others)).toMatch(/no mark on the cord/);
  });
});

describe("a row with one thing changed", () => {
  it("keeps what was set gap by gap", () => {
    const own = {
      ...makeRow({ ...recipe, shape: "uneven", poles: 4 }),
      gapsM: [0.41, 0.53, 0.38],
      targetFractions: [0.35, 0.6, 0.5],
    };
    const longer = changeRow(own, { poles: 5 });
    expect(longer.gapsM.slice(0, 3)).toEqual(own.gapsM);
    expect(longer.targetFractions.slice(0, 3)).toEqual(own.targetFractions);
    expect([longer.gapsM.length, longer.heightsM.length, longer.targetFractions.length]).toEqual([4, 5, 4]);
    expect(changeRow(own, { poles: 3 }).gapsM).toEqual([0.41, 0.53]);
    expect(changeRow(own, { spacingM: 0.44 }).gapsM).toEqual([0.44, 0.53, 0.38]);
    const raised = changeRow(own, { heightM: 0.08 });
    expect(raised).toMatchObject({ gapsM: own.gapsM, heightsM: [0.08, 0.08, 0.08, 0.08] });
    expect(changeRow(own, { angleDeg: 12 })).toMatchObject({
      gapsM: own.gapsM,
      anglesDeg: [12, -12, 12, -12],
    });
    expect(changeRow(own, { shape: "even" }).gapsM).toEqual([0.41, 0.41, 0.41]);
  });
});

describe("a dog's measures", () => {
  const sound = dogDraft().measures;

  it("of an ordinary dog raise no question", () => {
    expect(questionsOn(sound, "cm")).toEqual([]);
  });

  it("are asked about when they are unlikely, swapped, or in the other unit", () => {
    const ask = (change: Partial<typeof sound>) =>
      questionsOn({ ...sound, ...change }, "cm").map((question) => question.sentence);
    expect(ask({ shoulderM: 0.5, withersM: 0.44 }).join()).toMatch(/Were two numbers swapped\?/);
    expect(ask({ withersM: 1.4 }).join()).toMatch(/Withers at 140 cm\?/);
    expect(ask({ withersM: 0.2, shoulderM: 0.17, elbowM: 0.1, carpusM: 0.04, hockM: 0.06 }).join()).toMatch(
      /72 cm from nose to tail base with withers at 20 cm/,
    );
    expect(ask({ elbowM: 0.1, carpusM: null }).join()).toMatch(/elbow at 10 cm is low/);
    expect(ask({ withersM: 0.09 }).join()).toMatch(/measured in inches/);
  });

  it("are refused only where no dog could have them", () => {
    expect(outOfReach(25, "cm")).toMatch(/no length on a dog/);
    expect(outOfReach(1.4, "cm")).toBeNull();
    expect(outOfReach(null, "cm")).toBeNull();
  });
});
