import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { fitGround } from "../../src/ground/fit.ts";
import { IDENTITY } from "../../src/ground/homography.ts";
import { groundToImage, imageToGround } from "../../src/ground/map.ts";
import type { PoleMarks } from "../../src/ground/types.ts";
import { gatherEvidence } from "../../src/pipeline/evidence.ts";
import type { MarkedPaw, PadMark } from "../../src/pipeline/pads.ts";
import { placePaw } from "../../src/pipeline/paw-place.ts";

const truth = JSON.parse(readFileSync("fixtures/clips/demo-fits.json", "utf8")) as {
  picture: { widthPx: number; heightPx: number };
  marks: PoleMarks;
};
const map = fitGround(truth.marks, truth.picture).map!;
const camera = map.camera!;
const DOG_M = 0.6;
/** In the middle of a gap, far from what a pole hides. */
const standsAt = { xM: (map.poleXM[1]! + map.poleXM[2]!) / 2, yM: map.poleLengthM / 2 };
const foot = groundToImage(map, standsAt);
const pxPerM = groundToImage(map, { ...standsAt, xM: standsAt.xM + 0.01 }).x * 100 - foot.x * 100;
const box = { x: foot.x - 150, y: foot.y - 200, width: 300, height: 200 };

const marked = (pad?: Partial<PadMark>): MarkedPaw => ({
  x: foot.x + 4,
  y: foot.y - 6,
  score: 0.9,
  hind: 0.9,
  contact: 0.9,
  pad: pad && { x: foot.x, y: foot.y, sdXPx: 1, sdYPx: 1, sure: 0.9, paw: 1, ...pad },
});
const place = (paw: MarkedPaw) => placePaw(map, IDENTITY, paw, box, DOG_M);

describe("the place of a paw whose pad is known", () => {
  it("lies under the pad, a little along the line of sight from where its edge is drawn", () => {
    const at = place(marked({}));
    const [dx, dy] = [at.xM - standsAt.xM, at.yM - standsAt.yM];
    const [sx, sy] = [standsAt.xM - camera.xM, standsAt.yM - camera.yM];
    expect(Math.abs(dx * sy - dy * sx) / Math.hypot(sx, sy)).toBeLessThan(1e-6);
    expect(Math.hypot(dx, dy)).toBeLessThan(0.06 * DOG_M);
    expect(Math.abs(dx * sx + dy * sy)).toBeGreaterThan(0);
    // Where its mark lies is all the same then.
    const { x, y, ...rest } = marked({});
    expect(place({ ...rest, x: x + 5, y: y + 5 })).toEqual(at);
  });

  it("is known as well as the pad is, pixel by pixel along the row", () => {
    const [sure, blurred] = [0, 8].map((sdXPx) => place(marked({ sdXPx })));
    const own = Math.sqrt(blurred!.xSeM ** 2 - sure!.xSeM ** 2);
    expect(own * Math.abs(pxPerM)).toBeCloseTo(8, 0);
    expect(blurred!.xM).toBe(sure!.xM);
  });

  it("is the same in a frame of a camera that has moved and drawn nearer", () => {
    const half = (p: { x: number; y: number }) => ({ x: p.x / 2 - 20, y: p.y / 2 + 10 });
    const { pad, ...paw } = marked({});
    const inFrame = {
      ...paw,
      ...half(paw),
      pad: { ...pad!, ...half(pad!), sdXPx: pad!.sdXPx / 2 },
    };
    const frameBox = { ...half(box), width: box.width / 2, height: box.height / 2 };
    const there = placePaw(map, [2, 0, 40, 0, 2, -20, 0, 0, 1], inFrame, frameBox, DOG_M);
    const here = place(marked({}));
    expect(there.xM).toBeCloseTo(here.xM, 9);
    expect(there.xSeM).toBeCloseTo(here.xSeM, 6);
  });

  it("stays that of the mark where the pad network is unsure or speaks of another foot", () => {
    const byMark = place(marked());
    expect(place(marked({ sure: 0.49 }))).toEqual(byMark);
    expect(place(marked({ x: foot.x + 30 }))).toEqual(byMark);
    expect(place(marked({ sure: 0.51 }))).not.toEqual(byMark);
  });

  it("goes into the evidence, with how far ahead of the pad each place lies", () => {
    const look = (frame: number, paw: MarkedPaw) => ({
      frame,
      timeS: frame / 30,
      sighting: { box, dogScore: 1, cut: false, peaks: [paw] },
    });
    const { candidates } = gatherEvidence(
      {
        frameTimesS: [0, 1 / 30],
        looks: [look(0, marked()), look(1, marked({ x: foot.x - 5 }))],
        motion: null,
        referenceOf: () => IDENTITY,
      },
      map,
    );
    expect(candidates).toHaveLength(2);
    expect(candidates[0]!.aheadM).toBeGreaterThan(0.002);
    expect(candidates[1]!.aheadM).toBe(0);
    const under = imageToGround(map, { x: foot.x - 5, y: foot.y });
    expect(Math.hypot(candidates[1]!.xM - under.xM, candidates[1]!.yM - under.yM)).toBeLessThan(0.05);
  });
});
