import type { GreyPicture, ImagePoint } from "./types.ts";

/** Half the side of a patch. */
const HALF_PX = 6;
const SIDE = 2 * HALF_PX + 1;
/** Left-over of a patch, as a share of its own energy, from which it shows something else. */
const UNLIKE = 0.35;

/** Small pieces of a picture, prepared so that a shift of another picture against them costs microseconds. */
export interface StillPatches {
  width: number;
  patches: Patch[];
}

interface Patch {
  offset: number;
  values: Float32Array;
  /** Sum of squares about its mean. */
  energy: number;
  /** Rows of the inverse normal matrix times the gradients: one product gives the shift in x, one in y. */
  forX: Float32Array;
  forY: Float32Array;
}

/** Patches about the given points (those well within the picture and with detail in both directions). */
export function stillPatches(grey: GreyPicture, points: readonly ImagePoint[]): StillPatches {
  const { width, height, data } = grey;
  const patches = points.flatMap((p): Patch[] => {
    const [cx, cy] = [Math.round(p.x), Math.round(p.y)];
    if (cx <= HALF_PX || cy <= HALF_PX || cx >= width - HALF_PX - 1 || cy >= height - HALF_PX - 1) return [];
    const offset = (cy - HALF_PX) * width + cx - HALF_PX;
    const values = new Float32Array(SIDE * SIDE);
    const gx = new Float32Array(SIDE * SIDE);
    const gy = new Float32Array(SIDE * SIDE);
    let [xx, xy, yy] = [0, 0, 0];
    for (let y = 0, k = 0; y < SIDE; y++)
      for (let x = 0; x < SIDE; x++, k++) {
        const at = offset + y * width + x;
        values[k] = data[at]!;
        gx[k] = (data[at + 1]! - data[at - 1]!) / 2;
        gy[k] = (data[at + width]! - data[at - width]!) / 2;
        xx += gx[k]! * gx[k]!;
        xy += gx[k]! * gy[k]!;
        yy += gy[k]! * gy[k]!;
      }
    const determinant = xx * yy - xy * xy;
    const smallest = (xx + yy - Math.sqrt((xx - yy) ** 2 + 4 * xy * xy)) / 2;
    if (!(smallest > 4 * SIDE * SIDE)) return [];
    const forX = gx.map((g, k) => (yy * g - xy * gy[k]!) / determinant);
    const forY = gy.map((g, k) => (xx * g - xy * gx[k]!) / determinant);
    const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
    const energy = values.reduce((sum, v) => sum + (v - mean) ** 2, 0);
    return [{ offset, values, energy, forX, forY }];
  });
  return { width, patches };
}

/**
 * How far the picture is shifted against the patches, pixels: the median over those that look alike of one step
 * (inverse compositional, Baker and Matthews, IJCV 2004;56:221), right for shifts under about a pixel, and the
 * share of all patches that look alike and agree with it within a quarter of a pixel. A change of light does not count.
 */
export function shiftAgainst(still: StillPatches, grey: Uint8Array): { shift: ImagePoint; agreeing: number } {
  const shifts = still.patches.flatMap((patch): ImagePoint[] => {
    let mean = 0;
    for (let y = 0, k = 0; y < SIDE; y++)
      for (let x = 0, at = patch.offset + y * still.width; x < SIDE; x++, at++, k++)
        mean += grey[at]! - patch.values[k]!;
    mean /= SIDE * SIDE;
    let [dx, dy, unlike] = [0, 0, 0];
    for (let y = 0, k = 0; y < SIDE; y++)
      for (let x = 0, at = patch.offset + y * still.width; x < SIDE; x++, at++, k++) {
        const difference = grey[at]! - patch.values[k]! - mean;
        dx -= patch.forX[k]! * difference;
        dy -= patch.forY[k]! * difference;
        unlike += difference * difference;
      }
    // A step from far off is near zero as often as not: only a patch that still looks alike has a say.
    return unlike < UNLIKE * patch.energy ? [{ x: dx, y: dy }] : [];
  });
  if (shifts.length === 0) return { shift: { x: 0, y: 0 }, agreeing: 0 };
  const shift = { x: median(shifts.map((s) => s.x)), y: median(shifts.map((s) => s.y)) };
  const near = shifts.filter((s) => Math.hypot(s.x - shift.x, s.y - shift.y) < 0.25);
  return { shift, agreeing: near.length / still.patches.length };
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
