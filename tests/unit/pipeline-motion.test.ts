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

describe("a paw marked beside itself", () => {
  // Long enough on the ground for the empty scene to be told, with a paw on it only in the middle.
  const places = Array.from({ length: 60 }, (_, k) => (k >= 25 && k < 35 ? 56 : null));
  const motion = readMotion(places.map(strip), { pxPerM: 150, timesS: places.map((_, k) => k / 60) });
  const [edge, bare] = motion.places(30, [
    { x: 69.5, y: 16.5 },
    { x: 90.5, y: 16.5 },
  ]);

  it("is brought to it where the ground lies bare under the mark", () => {
    expect(edge!.at.x).toBeLessThan(65);
    expect(edge!.at.x).toBeGreaterThan(60);
    expect(edge!.covered).toBeGreaterThan(0.3);
  });

  it("stays where nothing is near", () => {
    expect(bare!.at).toEqual({ x: 90.5, y: 16.5 });
    expect(bare!.covered).toBe(0);
  });

  it("stays where something hides the ground at its place", () => {
    const [inside] = motion.places(30, [{ x: 66.5, y: 16.5 }]);
    expect(inside!.at).toEqual({ x: 66.5, y: 16.5 });
  });
});
