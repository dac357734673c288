import { describe, expect, it } from "vitest";
import { readMotion } from "../../src/pipeline/motion.ts";

const [width, height] = [120, 30];

/** Bare grey ground with a dark paw of 8 × 8 pixels whose left edge is at x; nothing where x is null. */
function strip(x: number | null) {
  const data = new Uint8Array(width * height).fill(120);
  if (x !== null) for (let row = 12; row < 20; row++) data.fill(30, row * width + x, row * width + x + 8);
  return { data, width, height };
}

describe("a paw marked once and followed by its pixels", () => {
  // Bare, swung in, still for ten frames, swung out, bare.
  const places = [
    ...Array.from({ length: 30 }, () => null),
    ...[20, 32, 44],
    ...Array.from({ length: 10 }, () => 56),
    ...[68, 80, 92],
    ...Array.from({ length: 30 }, () => null),
  ];
  const motion = readMotion(places.map(strip), { pxPerM: 150, timesS: places.map((_, k) => k / 60) });
  const at = { x: 60, y: 18 };

  it("is held as long as it stands, and no longer", () => {
    for (let t = 33; t < 43; t++) expect(motion.held(37, t, at)).toBe(1);
    expect(motion.held(37, 32, at)).toBeLessThan(0.4);
    expect(motion.held(37, 43, at)).toBeLessThan(0.4);
  });

  it("is not held where only the ground lies", () => {
    expect(motion.held(10, 11, at)).toBe(0);
  });
});
