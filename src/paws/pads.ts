import type { Region } from "../video/types.ts";
import type { Box, PadPatch, PadPlace } from "./types.ts";

/** Smaller patches show nothing of a pad: a pixel or two are all that it has, pixels of the frame. */
const LEAST_PATCH_PX = 16;
/** The answer is read this many cells about its highest one: a pad's width, so that a second foot does not draw it. */
const ABOUT_CELLS = 4;

/** The part of the frame to show the pad network for a paw marked on a dog: a square about the mark. */
export function padRegion(mark: { x: number; y: number }, box: Box, { share }: PadPatch): Region {
  const side = Math.max(LEAST_PATCH_PX, share * box.height);
  return { x: mark.x - side / 2, y: mark.y - side / 2, width: side, height: side };
}

/**
 * Reads the chances of one patch: mean and spread of those about the likeliest cell, no smaller than what a cell leaves
 * open.
 *
 * @param chances Of a square of cells, row by row, and last of there being no paw; their sum is 1.
 * @param cellPx Side of a cell, pixels of the patch.
 */
export function decodePad(chances: Float32Array, cellPx: number): PadPlace {
  const cells = chances.subarray(0, -1);
  const side = Math.sqrt(cells.length);
  const paw = 1 - chances[cells.length]!;
  let highest = 0;
  for (let i = 1; i < cells.length; i++) if (cells[i]! > cells[highest]!) highest = i;
  const about = { x: highest % side, y: Math.floor(highest / side) };
  let [mass, x, y, xx, yy] = [0, 0, 0, 0, 0];
  for (let v = Math.max(0, about.y - ABOUT_CELLS); v <= Math.min(side - 1, about.y + ABOUT_CELLS); v++) {
    for (let u = Math.max(0, about.x - ABOUT_CELLS); u <= Math.min(side - 1, about.x + ABOUT_CELLS); u++) {
      const p = cells[v * side + u]!;
      const [dx, dy] = [u - about.x, v - about.y];
      mass += p;
      x += p * dx;
      y += p * dy;
      xx += p * dx * dx;
      yy += p * dy * dy;
    }
  }
  const part = mass > 0 ? 1 / mass : 0;
  const spread = (squares: number, sum: number) =>
    cellPx * Math.sqrt(Math.max(squares * part - (sum * part) ** 2, 1 / 12));
  return {
    x: cellPx * (about.x + 0.5 + x * part),
    y: cellPx * (about.y + 0.5 + y * part),
    sdX: spread(xx, x),
    sdY: spread(yy, y),
    sure: paw > 0 ? Math.min(1, mass / paw) : 0,
    paw,
  };
}
