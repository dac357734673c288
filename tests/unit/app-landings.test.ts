import { describe, expect, it } from "vitest";
import { gatherPasses, judgeSession, marksChanged } from "../../src/app/judging.ts";
import {
  addLanding,
  changeLanding,
  findLanding,
  nextLanding,
  passAt,
  removeLanding,
} from "../../src/app/landings/edit.ts";
import { frameViewAt } from "../../src/app/landings/registration.ts";
import type { Landing, Pass, Paw } from "../../src/gait/types.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { applyHomography } from "../../src/ground/homography.ts";
import { groundToImage } from "../../src/ground/map.ts";
import type { PoleMarks } from "../../src/ground/types.ts";
import type { Matrix3 } from "../../src/stats/types.ts";
import type { ClipRecord } from "../../src/store/types.ts";

function landing(id: string, paw: Paw, onS: number, xM: number): Landing {
  return { id, paw, onS, offS: onS + 0.2, xM, yM: 0.5, xSeM: 0.01, probability: 0.5, source: "automatic" };
}

function pass(id: string, landings: Landing[]): Pass {
  return {
    id,
    startS: 1,
    endS: 3,
    direction: 1,
    landings,
    speedMps: 1.8,
    accelerationMps2: 0,
    gait: "trot",
    strideTimeS: 0.5,
    limbPhase: null,
    dutyFactor: null,
  };
}

const automatic = [pass("p1", [landing("a", "LH", 1.2, 0.2), landing("b", "RH", 1.45, 0.7)])];

describe("correcting landings", () => {
  it("makes a changed landing certain, by hand, and leaves the original as it was", () => {
    const next = changeLanding(automatic, "a", { xM: 0.25 });
    expect(findLanding(next, "a")?.landing).toMatchObject({ xM: 0.25, source: "hand", probability: 1 });
    expect(findLanding(automatic, "a")?.landing).toMatchObject({ xM: 0.2, source: "automatic" });
    expect(findLanding(next, "b")?.landing).toBe(automatic[0]?.landings[1]);
  });

  it("keeps landings in order of touch-down, and lift-off after touch-down", () => {
    const later = changeLanding(automatic, "a", { onS: 2 });
    expect(later[0]?.landings.map((one) => one.id)).toEqual(["b", "a"]);
    expect(findLanding(later, "a")?.landing.offS).toBeGreaterThan(2);
    const earlier = changeLanding(automatic, "b", { offS: 1.1 });
    expect(findLanding(earlier, "b")?.landing.onS).toBeLessThan(1.1);
  });

  it("adds a landing to the pass it was seen in, with this dog's usual stance", () => {
    const next = addLanding(automatic, { id: "c", paw: "LH", timeS: 1.8, xM: 1.2, yM: 0.5, xSeM: 0.02 });
    expect(next).toHaveLength(1);
    expect(findLanding(next, "c")?.landing).toMatchObject({ source: "hand", xSeM: 0.02 });
    expect(findLanding(next, "c")?.landing.onS).toBeCloseTo(1.7, 9);
    expect(next[0]?.strideTimeS).toBeCloseTo(0.5, 9);
  });

  it("starts a pass where there is none near, and reads its direction and speed from the landings", () => {
    let passes: Pass[] = [];
    for (let k = 0; k < 5; k++) {
      passes = addLanding(passes, {
        id: `h${k}`,
        paw: k % 2 ? "RH" : "LH",
        timeS: 10 + 0.25 * k,
        xM: 2.3 - 0.5 * k,
        yM: 0.5,
        xSeM: 0,
      });
    }
    expect(passes).toHaveLength(1);
    expect(passes[0]).toMatchObject({ direction: -1 });
    expect(passes[0]?.speedMps).toBeCloseTo(2, 6);
    expect(passAt(passes, 10.5)?.id).toBe(passes[0]?.id);
    expect(passAt(passes, 20)).toBeNull();
    for (let k = 0; k < 5; k++) passes = removeLanding(passes, `h${k}`);
    expect(passes).toEqual([]);
  });

  it("goes from landing to landing in time, and stops at either end", () => {
    expect(nextLanding(automatic, 0, 1)?.id).toBe("a");
    expect(nextLanding(automatic, 1.3, 1)?.id).toBe("b");
    expect(nextLanding(automatic, 1.6, 1)).toBeNull();
    expect(nextLanding(automatic, 1.5, -1)?.id).toBe("a");
  });

  it("keeps an automatic pass whose landings were all taken away", () => {
    expect(removeLanding(removeLanding(automatic, "a"), "b")).toHaveLength(1);
  });
});

describe("ground and one frame of a moving camera", () => {
  const marks: PoleMarks = {
    timeS: 0,
    poles: [340, 480, 620, 770].map((x, k) => ({
      near: { x, y: 475 + k },
      far: { x: x + 65 - 32 * k, y: 428 + k },
    })),
    gapsM: [0.5, 0.5, 0.5],
    poleLengthM: 1,
  };
  const { map } = fitGround(marks, { widthPx: 1280, heightPx: 720 });
  if (!map) throw new Error("These poles should give a ground.");

  it("is the marked frame where the camera stood still", () => {
    const view = frameViewAt(map, [], 1.5);
    expect(view.sure).toBe(true);
    expect(view.toFrame({ xM: 0.3, yM: 0.4 })).toEqual(groundToImage(map, { xM: 0.3, yM: 0.4 }));
  });

  it("lies between the registrations beside it where a frame has none of its own", () => {
    const at = (x: number): Matrix3 => [1, 0, x, 0, 1, 0, 0, 0, 1];
    const registrations = [
      { timeS: 1, frameToReference: at(10), ok: true },
      { timeS: 1.1, frameToReference: at(50), ok: true },
    ];
    const drawn = groundToImage(map, { xM: 0.8, yM: 0.5 }).x;
    const seen = (timeS: number) => frameViewAt(map, registrations, timeS).toFrame({ xM: 0.8, yM: 0.5 }).x;
    expect(seen(0.5)).toBeCloseTo(drawn - 10, 6);
    expect(seen(1.025)).toBeCloseTo(drawn - 20, 6);
    expect(seen(1.1)).toBeCloseTo(drawn - 50, 6);
    expect(seen(2)).toBeCloseTo(drawn - 50, 6);
  });

  it("follows the registration nearest in time, there and back", () => {
    const shifted: Matrix3 = [1, 0, 40, 0, 1, -6, 0, 0, 1];
    const view = frameViewAt(
      map,
      [
        { timeS: 0, frameToReference: [1, 0, 0, 0, 1, 0, 0, 0, 1], ok: true },
        { timeS: 1, frameToReference: shifted, ok: false },
      ],
      0.9,
    );
    expect(view.sure).toBe(false);
    const place = { xM: 0.8, yM: 0.5 };
    const seen = view.toFrame(place);
    expect(applyHomography(shifted, seen).x).toBeCloseTo(groundToImage(map, place).x, 6);
    expect(view.toGround(seen).xM).toBeCloseTo(0.8, 6);
    expect(view.tapErrorM(seen)).toBeGreaterThan(0);
  });
});

describe("gathering a session", () => {
  const layout = { gapsM: [0.5, 0.5, 0.5], heightsM: [0, 0, 0, 0], targetFractions: [0.5, 0.5, 0.5] };
  const clip = (id: string, change: Partial<ClipRecord> = {}): ClipRecord => ({
    id,
    changedAt: 0,
    addedAt: 0,
    sessionId: "s",
    fileName: `${id}.mp4`,
    sizeBytes: 1,
    mimeType: "",
    filmKept: false,
    marks: { timeS: 0, poles: [{}, {}, {}, {}], gapsM: [0.5, 0.5, 0.5] },
    range: null,
    analysis: null,
    editedPasses: automatic,
    passChoices: {},
    ...change,
  });

  it("keeps ids as they are for one clip, and tells clips apart where there are several", () => {
    expect(gatherPasses([clip("one")], layout).passes[0]?.id).toBe("p1");
    const both = gatherPasses([clip("one"), clip("two")], layout).passes;
    expect(both.map((one) => one.id)).toEqual(["one/p1", "two/p1"]);
    expect(new Set(both.flatMap((one) => one.landings.map((two) => two.id))).size).toBe(4);
  });

  it("says which passes were decided by hand, and leaves out clips over another row", () => {
    const decided = { use: false, reason: "pulled on the lead" };
    const aside = clip("one", { passChoices: { p1: decided } });
    expect(gatherPasses([aside], layout).decisions).toEqual({ p1: decided });
    expect(gatherPasses([aside, clip("two")], layout).decisions).toEqual({ "one/p1": decided });
    const judged = judgeSession({ layout, aim: "first-poles", gait: "trot" }, [aside], null, "cm");
    expect(judged?.judgement.passes[0]).toMatchObject({
      used: false,
      setAside: "Set aside by hand: pulled on the lead.",
    });
    expect(judged?.judgement.verdict.kind).toBe("cannot-tell");
    const other = clip("two", { marks: { timeS: 0, poles: [], gapsM: [0.6, 0.6, 0.6] } });
    expect(gatherPasses([other], layout).otherRow.map((one) => one.id)).toEqual(["two"]);
  });

  it("judges nothing without a row, and says so for too few landings", () => {
    expect(judgeSession({ layout: null, aim: "first-poles", gait: "trot" }, [], null, "cm")).toBeNull();
    const judged = judgeSession({ layout, aim: "first-poles", gait: "trot" }, [clip("one")], null, "cm");
    expect(judged?.judgement.verdict.kind).toBe("cannot-tell");
  });

  it("notices poles marked anew after the landings were found", () => {
    const marks: PoleMarks = { timeS: 0, poles: [], gapsM: [0.5] };
    const analysis = { marks } as ClipRecord["analysis"];
    expect(marksChanged(clip("one", { analysis, marks: { ...marks } }))).toBe(false);
    expect(marksChanged(clip("one", { analysis, marks: { ...marks, gapsM: [0.6] } }))).toBe(true);
    expect(marksChanged(clip("one"))).toBe(false);
  });
});
