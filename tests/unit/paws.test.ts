import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { placeCrop } from "../../src/paws/crop.ts";
import { decodeMaps, type MapSet } from "../../src/paws/decode.ts";
import { dogBoxes } from "../../src/paws/dog-boxes.ts";
import { peaksOf } from "../../src/paws/peaks.ts";
import { agrees, agreesOnPlaces, lowTrialPicture, trialPatch, trialPicture } from "../../src/paws/trial.ts";

const SIDE = 56;
/** As models/training/targets.py draws a point, in cells. */
const SPREAD = 1.5;

function bump(map: Float32Array, x: number, y: number, height = 1): void {
  for (let v = 0; v < SIDE; v++) {
    for (let u = 0; u < SIDE; u++) {
      const d2 = (u + 0.5 - x) ** 2 + (v + 0.5 - y) ** 2;
      map[v * SIDE + u] = Math.max(map[v * SIDE + u]!, height * Math.exp(-d2 / (2 * SPREAD ** 2)));
    }
  }
}

function mapSet(draw: (map: (name: string) => Float32Array) => void): MapSet {
  const names = ["forePaw", "hindPaw", "elbow", "nose", "contact", "far", "left", "dog"];
  const planes = names.map(() => new Float32Array(SIDE * SIDE));
  draw((name) => planes[names.indexOf(name)]!);
  const values = new Float32Array(SIDE * SIDE * names.length);
  planes.forEach((plane, m) => {
    plane.forEach((value, i) => {
      values[i * names.length + m] = value;
    });
  });
  return { names, side: SIDE, stride: 4, values };
}

describe("peaks", () => {
  test("a bump anywhere is placed to a hundredth of a cell", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 3, max: SIDE - 3, noNaN: true }),
        fc.double({ min: 3, max: SIDE - 3, noNaN: true }),
        (x, y) => {
          const map = new Float32Array(SIDE * SIDE);
          bump(map, x, y);
          const [peak] = peaksOf(map, SIDE, 0.1, 3);
          expect(Math.hypot(peak!.x - x, peak!.y - y)).toBeLessThan(0.01);
        },
      ),
    );
  });

  test("two feet apart stay two, the higher first", () => {
    const map = new Float32Array(SIDE * SIDE);
    bump(map, 20, 30, 0.6);
    bump(map, 27, 31, 0.9);
    const found = peaksOf(map, SIDE, 0.1, 6);
    expect(found.map((p) => Math.round(p.x))).toEqual([27, 20]);
  });

  test("a flat map gives one peak at most, an empty one none", () => {
    expect(peaksOf(new Float32Array(SIDE * SIDE), SIDE, 0.1, 6)).toEqual([]);
    expect(peaksOf(new Float32Array(SIDE * SIDE).fill(0.5), SIDE, 0.1, 6)).toHaveLength(1);
  });
});

describe("what a crop shows", () => {
  const seen = decodeMaps(
    mapSet((map) => {
      bump(map("forePaw"), 40, 45);
      bump(map("hindPaw"), 12, 46);
      bump(map("hindPaw"), 20, 44, 0.7);
      // The fore map answers faintly to a hind paw.
      bump(map("forePaw"), 20, 44, 0.2);
      bump(map("elbow"), 41, 30);
      bump(map("elbow"), 35, 30, 0.8);
      bump(map("nose"), 50, 20);
      map("contact").fill(0.9);
      for (let v = 0; v < SIDE; v++) map("left").fill(0.8, v * SIDE + 38, v * SIDE + SIDE);
      for (let v = 20; v < 40; v++) map("dog").fill(1, v * SIDE + 10, v * SIDE + 48);
    }),
  );

  test("every paw is one peak, in crop pixels, with the odds of hind", () => {
    const peaks = [...seen.peaks].sort((a, b) => a.x - b.x);
    expect(peaks.map((p) => Math.round(p.x))).toEqual([48, 80, 160]);
    expect(peaks[0]!.hind).toBeGreaterThan(0.99);
    expect(peaks[1]!.hind).toBeCloseTo(0.7 / 0.9, 1);
    expect(peaks[2]!.hind).toBeLessThan(0.01);
    expect(peaks[0]!.contact).toBeCloseTo(0.9, 5);
  });

  test("of a pair the likelier left one is left", () => {
    const at = (name: string) => seen.joints.find((j) => j.name === name);
    expect(at("leftElbow")!.x).toBeGreaterThan(at("rightElbow")!.x);
    expect(at("nose")!.x).toBeCloseTo(200, 0);
    expect(at("withers")).toBeUndefined();
  });

  test("the dog's box is its mask's", () => {
    expect(seen.dogBox).toEqual({ x: 40, y: 80, width: 152, height: 80 });
    expect(seen.dogScore).toBe(1);
  });

  test("an empty crop shows nothing", () => {
    const empty = decodeMaps(mapSet(() => {}));
    expect(empty).toMatchObject({ peaks: [], joints: [], dogScore: 0, dogBox: null });
  });

  test("maps that an older network lacks are left open", () => {
    const { names, values, ...rest } = mapSet((map) => bump(map("hindPaw"), 20, 20));
    const seen = decodeMaps({ ...rest, values, names: names.map((n) => (n === "contact" ? "other" : n)) });
    expect(seen.peaks[0]!.contact).toBe(0.5);
  });
});

test("two dogs are two boxes, the larger first; specks are none", () => {
  const mask = new Float32Array(20 * 20);
  for (let y = 2; y < 6; y++) mask.fill(0.9, y * 20 + 1, y * 20 + 5);
  for (let y = 10; y < 18; y++) mask.fill(0.8, y * 20 + 8, y * 20 + 19);
  mask[19] = 1;
  expect(dogBoxes(mask, 20)).toEqual([
    { x: 8, y: 10, width: 11, height: 8, score: expect.closeTo(0.8, 5) },
    { x: 1, y: 2, width: 4, height: 4, score: expect.closeTo(0.9, 5) },
  ]);
});

test("a crop is square, holds the dog's box, and stays in the frame where it can", () => {
  fc.assert(
    fc.property(
      fc.record({
        x: fc.integer({ min: 0, max: 1200 }),
        y: fc.integer({ min: 0, max: 650 }),
        width: fc.integer({ min: 20, max: 400 }),
        height: fc.integer({ min: 20, max: 300 }),
      }),
      (wish) => {
        const box = {
          ...wish,
          width: Math.min(wish.width, 1280 - wish.x),
          height: Math.min(wish.height, 720 - wish.y),
        };
        const crop = placeCrop(box, { widthPx: 1280, heightPx: 720 });
        expect(crop.width).toBe(crop.height);
        expect(crop.x).toBeLessThanOrEqual(box.x);
        expect(crop.y).toBeLessThanOrEqual(box.y);
        expect(crop.x + crop.width).toBeGreaterThanOrEqual(box.x + box.width);
        expect(crop.y + crop.height).toBeGreaterThanOrEqual(box.y + box.height);
        expect(crop.x).toBeGreaterThanOrEqual(0);
        expect(crop.y + crop.height).toBeLessThanOrEqual(720);
      },
    ),
  );
});

test("a lower crop is tried on the rows from head to feet", () => {
  const whole = trialPicture(224);
  const low = lowTrialPicture(224, 160);
  expect(low.length).toBe(224 * 160 * 3);
  expect(low).toEqual(whole.slice(48 * 224 * 3, 208 * 224 * 3));
});

test("the trial picture is the one that the exporter draws", () => {
  // Values printed by trial_picture(224) of models/training/export.py.
  const picture = trialPicture(224);
  const at = (x: number, y: number) => [...picture.subarray((y * 224 + x) * 3, (y * 224 + x) * 3 + 3)];
  expect(at(100, 100)).toEqual([163, 113, 70]);
  expect(at(10, 10)).toEqual([162, 177, 197]);
  expect(at(50, 200)).toEqual([99, 135, 81]);
  expect(at(70, 170)).toEqual([143, 93, 60]);
  expect(picture.reduce((sum, value) => sum + value, 0)).toBe(20_771_331);
});

test("a backend with wrong or missing numbers is not believed", () => {
  const trial = { at: [0, 2], values: [0.5, 0.9] };
  expect(agrees(new Float32Array([0.52, 0, 0.88]), trial)).toBe(true);
  expect(agrees(new Float32Array([0.52, 0, 0.7]), trial)).toBe(false);
  expect(agrees(new Float32Array([0.52]), trial)).toBe(false);
  expect(agrees(new Float32Array([Number.NaN, 0, 0.9]), trial)).toBe(false);
});

test("the trial patch is the one that the exporter cuts", () => {
  // Values printed from trial_picture(224)[130:194, 40:104] of models/training/export.py.
  const patch = trialPatch(64);
  const at = (x: number, y: number) => [...patch.subarray((y * 64 + x) * 3, (y * 64 + x) * 3 + 3)];
  expect(at(20, 10)).toEqual([108, 144, 90]);
  expect(at(40, 60)).toEqual([98, 134, 80]);
  expect(at(38, 30)).toEqual([109, 145, 91]);
  expect(patch.reduce((sum, value) => sum + value, 0)).toBe(1_326_628);
});

test("a backend with wrong places is not believed, however small its probabilities are", () => {
  const trial = { at: [0, 2, 3], values: [0.002, 0.02, 0] };
  expect(agreesOnPlaces(new Float32Array([0.002, 0, 0.0195, 0]), trial)).toBe(true);
  expect(agreesOnPlaces(new Float32Array([0.002, 0.02, 0, 0]), trial)).toBe(false);
  expect(agreesOnPlaces(new Float32Array(4), trial)).toBe(false);
  expect(agreesOnPlaces(new Float32Array([0.002]), trial)).toBe(false);
  // A surer "no paw" must not make up for cells in the wrong place.
  const doubtful = { at: [0, 1, 2], values: [0.06, 0.004, 0.78] };
  expect(agreesOnPlaces(new Float32Array([0.062, 0.004, 0.75]), doubtful)).toBe(true);
  expect(agreesOnPlaces(new Float32Array([0.004, 0.06, 0.78]), doubtful)).toBe(false);
  expect(agreesOnPlaces(new Float32Array([0.06, 0.004, 0.5]), doubtful)).toBe(false);
});
