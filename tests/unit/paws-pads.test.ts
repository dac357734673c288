import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { decodePad, padRegion } from "../../src/paws/pads.ts";

const SIDE = 32;
const CELL_PX = 2;

/** Chances of bumps with the given middle and spread, pixels of the patch, each with its share of the whole, and of no paw. */
function chancesOf(bumps: { x: number; y: number; sd: number; share: number }[], none = 0): Float32Array {
  const cells = new Float64Array(SIDE * SIDE);
  for (const { x, y, sd, share } of bumps) {
    const drawn = cells.map((_, i) => {
      const [u, v] = [CELL_PX * ((i % SIDE) + 0.5), CELL_PX * (Math.floor(i / SIDE) + 0.5)];
      return Math.exp(-((u - x) ** 2 + (v - y) ** 2) / (2 * sd * sd));
    });
    const sum = drawn.reduce((a, b) => a + b, 0);
    drawn.forEach((value, i) => {
      cells[i]! += (share * value) / sum;
    });
  }
  return Float32Array.from([...cells.map((c) => c * (1 - none)), none]);
}

describe("what the pad network says of a patch", () => {
  it("is the place and the spread of a single bump, wherever it lies", () => {
    const inside = fc.double({ min: 12, max: 52, noNaN: true });
    fc.assert(
      fc.property(inside, inside, fc.double({ min: 1.3, max: 2.2, noNaN: true }), (x, y, sd) => {
        const place = decodePad(chancesOf([{ x, y, sd, share: 1 }]), CELL_PX);
        expect(Math.hypot(place.x - x, place.y - y)).toBeLessThan(0.1);
        expect(place.sdX).toBeCloseTo(sd, 1);
        expect(place.sdY).toBeCloseTo(place.sdX, 1);
        expect(place.sure).toBeGreaterThan(0.98);
      }),
    );
  });

  it("is the better of two places, not their middle, and half as sure", () => {
    const place = decodePad(
      chancesOf([
        { x: 20, y: 40, sd: 1.5, share: 0.6 },
        { x: 46, y: 38, sd: 1.5, share: 0.4 },
      ]),
      CELL_PX,
    );
    expect(Math.hypot(place.x - 20, place.y - 40)).toBeLessThan(0.1);
    expect(place.sure).toBeCloseTo(0.6, 2);
  });

  it("is as sure of the place when a paw itself is in doubt, and tells that apart", () => {
    const bumps = [{ x: 30, y: 40, sd: 1.5, share: 1 }];
    const [seen, doubtful] = [
      decodePad(chancesOf(bumps), CELL_PX),
      decodePad(chancesOf(bumps, 0.7), CELL_PX),
    ];
    expect(doubtful.paw).toBeCloseTo(0.3, 5);
    expect(doubtful.x).toBeCloseTo(seen.x, 4);
    expect(doubtful.sure).toBeCloseTo(seen.sure, 4);
  });

  it("stays in the patch and is never surer than all of it, whatever the network answers", () => {
    const logits = fc.array(fc.double({ min: -12, max: 12, noNaN: true }), {
      minLength: SIDE * SIDE,
      maxLength: SIDE * SIDE,
    });
    fc.assert(
      fc.property(logits, fc.double({ min: 0, max: 1, noNaN: true }), (values, none) => {
        const raised = values.map(Math.exp);
        const sum = raised.reduce((a, b) => a + b, 0);
        const place = decodePad(
          Float32Array.from([...raised.map((v) => (v / sum) * (1 - none)), none]),
          CELL_PX,
        );
        for (const at of [place.x, place.y]) {
          expect(at).toBeGreaterThanOrEqual(CELL_PX / 2);
          expect(at).toBeLessThanOrEqual(SIDE * CELL_PX - CELL_PX / 2);
        }
        expect(place.sure).toBeGreaterThanOrEqual(0);
        expect(place.paw).toBeCloseTo(1 - none, 5);
        expect(place.sure).toBeLessThanOrEqual(1 + 1e-5);
        // No window of nine cells spreads wider than its two ends.
        expect(Math.max(place.sdX, place.sdY)).toBeLessThan(4.1 * CELL_PX);
      }),
      { numRuns: 40 },
    );
  });

  it("leaves open where in a cell it is, however sure of the cell", () => {
    const cells = new Float32Array(SIDE * SIDE + 1);
    cells[5 * SIDE + 9] = 1;
    const width = expect.closeTo(CELL_PX / Math.sqrt(12), 6);
    expect(decodePad(cells, CELL_PX)).toEqual({ x: 19, y: 11, sdX: width, sdY: width, sure: 1, paw: 1 });
  });

  it("is next to nothing where every cell is as likely", () => {
    expect(decodePad(new Float32Array(SIDE * SIDE + 1).fill(1 / SIDE ** 2), CELL_PX).sure).toBeLessThan(0.1);
  });
});

describe("the part of the frame shown to it", () => {
  it("is a square about the mark, by the dog's height, and not of a few pixels only", () => {
    const mark = { x: 300, y: 410 };
    const patch = { sidePx: 64, share: 0.4 };
    expect(padRegion(mark, { x: 100, y: 200, width: 400, height: 200 }, patch)).toEqual({
      x: 260,
      y: 370,
      width: 80,
      height: 80,
    });
    expect(padRegion(mark, { x: 100, y: 200, width: 40, height: 20 }, patch)).toEqual({
      x: 292,
      y: 402,
      width: 16,
      height: 16,
    });
  });
});
