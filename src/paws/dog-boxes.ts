import type { Box } from "./types.ts";

const INSIDE = 0.5;
/** Smaller specks are no dog, cells. */
const LEAST_CELLS = 6;

/**
 * Boxes around the connected parts of a dog mask whose rows are `side` cells wide, in cells, largest part first; the score is the
 * part's mean probability.
 */
export function dogBoxes(mask: Float32Array, side: number): (Box & { score: number })[] {
  const seen = new Uint8Array(mask.length);
  const parts: { box: Box & { score: number }; cells: number }[] = [];
  for (let start = 0; start < mask.length; start++) {
    if (seen[start] || mask[start]! < INSIDE) continue;
    const part = flood(mask, side, start, seen);
    if (part.cells >= LEAST_CELLS) parts.push(part);
  }
  parts.sort((a, b) => b.cells * b.box.score - a.cells * a.box.score);
  return parts.map((p) => p.box);
}

function flood(mask: Float32Array, side: number, start: number, seen: Uint8Array) {
  const open = [start];
  seen[start] = 1;
  const rows = mask.length / side;
  let [left, right, top, bottom, sum, cells] = [side, 0, rows, 0, 0, 0];
  while (open.length > 0) {
    const at = open.pop()!;
    const x = at % side;
    const y = (at - x) / side;
    left = Math.min(left, x);
    right = Math.max(right, x + 1);
    top = Math.min(top, y);
    bottom = Math.max(bottom, y + 1);
    sum += mask[at]!;
    cells++;
    for (const [u, v] of [
      [x - 1, y],
      [x + 1, y],
      [x, y - 1],
      [x, y + 1],
    ] as const) {
      const next = v * side + u;
      if (u < 0 || v < 0 || u >= side || v >= rows || seen[next] || mask[next]! < INSIDE) continue;
      seen[next] = 1;
      open.push(next);
    }
  }
  return { box: { x: left, y: top, width: right - left, height: bottom - top, score: sum / cells }, cells };
}
