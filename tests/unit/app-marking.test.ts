import { describe, expect, it } from "vitest";
import { begin, redo, step, undo } from "../../src/app/history.ts";
import { lengthNumber, metresTyped } from "../../src/app/lengths.ts";
import { bringInto, fitPart, fitView, pan, toImage, toScreen, zoomAt } from "../../src/app/picture/view.ts";
import {
  aroundRow,
  openSlot,
  type Row,
  rowOf,
  slotAfter,
  slotNear,
  slotTold,
  UPRIGHT,
  wholePoles,
  withoutPoint,
  withoutPole,
  withPoint,
  withRow,
} from "../../src/app/poles/marking.ts";
import type { PoleMarks } from "../../src/ground/types.ts";

const even: Row = { even: true, spacingM: 0.45, gapsM: [] };
const none: PoleMarks = { timeS: 0, poles: [], gapsM: [] };

function tapped(count: number, row: Row = even): PoleMarks {
  let marks = none;
  for (let pole = 0; pole < count; pole++) {
    marks = withPoint(marks, { pole, end: "near" }, { x: 100 * pole, y: 200 }, row);
    marks = withPoint(marks, { pole, end: "far" }, { x: 100 * pole + 10, y: 150 }, row);
  }
  return marks;
}

describe("marking a row", () => {
  it("asks for near, far, then the next pole, and goes on where it was left", () => {
    expect(openSlot(none)).toEqual({ pole: 0, end: "near" });
    const one = withPoint(none, { pole: 0, end: "near" }, { x: 1, y: 2 }, even);
    expect(slotAfter(one, { pole: 0, end: "near" })).toEqual({ pole: 0, end: "far" });
    expect(openSlot(one)).toEqual({ pole: 0, end: "far" });
    expect(openSlot(tapped(3))).toEqual({ pole: 3, end: "near" });
  });

  it("takes the dog's height: the foot first, the withers above it, then the next pole again", () => {
    const foot = { pole: UPRIGHT, end: "near" } as const;
    expect(slotTold(foot)).toBe("the ground under the dog's forefeet");
    const stood = withPoint(tapped(2), foot, { x: 60, y: 180 }, even);
    expect(stood.upright).toEqual({ foot: { x: 60, y: 180 }, top: { x: 60, y: 140 }, heightM: 0.5 });
    expect(stood.poles).toEqual(tapped(2).poles);
    const top = slotAfter(stood, foot);
    const measured = withPoint(stood, top, { x: 62, y: 90 }, even);
    expect(measured.upright).toMatchObject({ foot: { x: 60, y: 180 }, top: { x: 62, y: 90 } });
    expect(slotAfter(measured, top)).toEqual({ pole: 2, end: "near" });
    expect(slotNear(measured, { x: 63, y: 92 }, 10)).toEqual(top);
    expect(withoutPoint(measured, top, even).upright).toBeUndefined();
  });

  it("knows a row of whole poles from one with an end missing", () => {
    expect(wholePoles(tapped(2))).toHaveLength(2);
    expect(wholePoles(none)).toBeNull();
    expect(wholePoles(withoutPoint(tapped(2), { pole: 1, end: "far" }, even))).toBeNull();
  });

  it("gives each gap of an even row the spacing as poles are added", () => {
    expect(tapped(1).gapsM).toEqual([]);
    expect(tapped(4).gapsM).toEqual([0.45, 0.45, 0.45]);
  });

  it("leaves the gaps out while one of them is missing", () => {
    expect(tapped(3, { even: true, spacingM: null, gapsM: [] }).gapsM).toEqual([]);
    expect(withRow(tapped(3), { even: false, spacingM: null, gapsM: [0.4] }).gapsM).toEqual([]);
    expect(withRow(tapped(3), { even: false, spacingM: null, gapsM: [0.4, 0.5] }).gapsM).toEqual([0.4, 0.5]);
  });

  it("joins the two gaps around a pole that is taken out of an uneven row", () => {
    const uneven = { even: false, spacingM: null, gapsM: [0.4, 0.5, 0.6] };
    const marks = withRow(tapped(4), uneven);
    expect(withoutPole(marks, 1, uneven).gapsM).toEqual([0.9, 0.6]);
    expect(withoutPole(marks, 0, uneven).gapsM).toEqual([0.5, 0.6]);
    expect(withoutPole(marks, 3, uneven).gapsM).toEqual([0.4, 0.5]);
  });

  it("drops a pole with its last end", () => {
    const one = withoutPoint(tapped(2), { pole: 1, end: "near" }, even);
    expect(one.poles[1]).toEqual({ far: { x: 110, y: 150 } });
    expect(withoutPoint(one, { pole: 1, end: "far" }, even).poles).toHaveLength(1);
  });

  it("takes hold of the nearest mark within reach only", () => {
    expect(slotNear(tapped(3), { x: 104, y: 198 }, 9)).toEqual({ pole: 1, end: "near" });
    expect(slotNear(tapped(3), { x: 120, y: 198 }, 9)).toBeNull();
  });

  it("knows an even row from an uneven one", () => {
    expect(rowOf({ ...none, gapsM: [0.45, 0.45] }, null)).toMatchObject({ even: true, spacingM: 0.45 });
    expect(rowOf({ ...none, gapsM: [0.45, 0.5] }, null).even).toBe(false);
    expect(rowOf(none, [0.6, 0.6]).spacingM).toBe(0.6);
    expect(rowOf(none, null)).toEqual({ even: true, spacingM: null, gapsM: [] });
  });

  it("frames the row with room above it for a dog", () => {
    const part = aroundRow([
      { x: 300, y: 500 },
      { x: 900, y: 460 },
    ]);
    expect(part).toEqual({ x: 225, y: 280, width: 750, height: 280 });
    expect(aroundRow([{ x: 1, y: 1 }])).toBeNull();
  });
});

describe("history", () => {
  it("goes back and forth, and forgets what was undone after a new step", () => {
    let history = step(step(begin("a"), "b"), "c");
    history = undo(history);
    expect(history.now).toBe("b");
    expect(redo(history).now).toBe("c");
    history = step(history, "d");
    expect(redo(history).now).toBe("d");
    expect(undo(undo(undo(history))).now).toBe("a");
  });

  it("takes a gesture back in one go, but not two gestures", () => {
    let history = step(step(step(begin(0), 1, "drag"), 2, "drag"), 3, "nudge");
    history = undo(history);
    expect(history.now).toBe(2);
    expect(undo(history).now).toBe(0);
    // After an undo the same gesture is a new one.
    expect(undo(step(history, 9, "drag")).now).toBe(2);
  });

  it("can hold undefined as a value", () => {
    expect(undo(step(begin<number | undefined>(undefined), 1)).now).toBeUndefined();
  });
});

describe("typed lengths", () => {
  it("reads centimetres and inches, with point or comma", () => {
    expect(metresTyped("45", "cm")).toBeCloseTo(0.45, 12);
    expect(metresTyped(" 17,5 ", "in")).toBeCloseTo(0.4445, 12);
    expect(metresTyped("0", "cm")).toBe(0);
  });

  it("takes nothing else for a number", () => {
    for (const text of ["", " ", "abc", "45 cm", "1e3", "-5", "4.5.6", "."])
      expect(metresTyped(text, "cm")).toBeNull();
  });

  it("writes no minus before nought", () => {
    expect(lengthNumber(-0.0003, "cm", 1)).toBe("0.0");
    expect(lengthNumber(0.4572, "in")).toBe("18.0");
  });
});

describe("the view of a picture", () => {
  const picture = { width: 1280, height: 720 };
  const box = { width: 390, height: 300 };

  it("shows the whole picture in the middle", () => {
    const view = fitView(picture, box);
    expect(toScreen(view, { x: 0, y: 0 }).x).toBeCloseTo(0, 9);
    expect(toScreen(view, { x: 640, y: 360 })).toEqual({ x: 195, y: 150 });
  });

  it("keeps the point under the fingers where it is while zooming", () => {
    const centre = { x: 200, y: 160 };
    const before = fitView(picture, box);
    const after = zoomAt(zoomAt(before, 2, centre, picture, box), 1.5, centre, picture, box);
    expect(after.scale).toBeCloseTo(3 * before.scale, 9);
    expect(toImage(after, centre).x).toBeCloseTo(toImage(before, centre).x, 6);
  });

  it("never shrinks under the whole picture, and leaves no empty edge", () => {
    const whole = fitView(picture, box);
    expect(zoomAt(whole, 0.1, { x: 0, y: 0 }, picture, box)).toEqual(whole);
    const near = zoomAt(whole, 6, { x: 195, y: 150 }, picture, box);
    expect(pan(near, 1e6, 1e6, picture, box)).toMatchObject({ x: 0, y: 0 });
    const corner = pan(near, -1e6, -1e6, picture, box);
    expect(toScreen(corner, { x: 1280, y: 720 }).x).toBeCloseTo(box.width, 6);
  });

  it("shows a part as large as it goes, and brings a point into sight", () => {
    const view = fitPart({ x: 400, y: 300, width: 400, height: 200 }, picture, box);
    expect(view.scale).toBeCloseTo(390 / 400, 9);
    expect(toScreen(view, { x: 600, y: 400 })).toEqual({ x: 195, y: 150 });
    const moved = bringInto(view, { x: 1000, y: 400 }, 40, picture, box);
    expect(toScreen(moved, { x: 1000, y: 400 }).x).toBeCloseTo(350, 6);
  });
});
