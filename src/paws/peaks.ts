/** A place in a map, in cells: 0 is the left or top edge of the first cell, 0.5 its middle. */
export interface Peak {
  x: number;
  y: number;
  score: number;
}

/** A peak must be the highest cell within this many cells. */
const REACH = 2;
/** Added before the logarithm, so that an empty cell has one. */
const FLOOR = 1e-6;

/**
 * The highest `most` local maxima that reach `least` of a map whose rows are `side` cells wide, best first, each placed below the cell.
 * The maps are trained on Gaussians, whose logarithm is a parabola: its top through three cells is exact for them.
 */
export function peaksOf(map: Float32Array, side: number, least: number, most: number): Peak[] {
  const found: Peak[] = [];
  const rows = map.length / side;
  for (let y = 0; y < rows; y++) {
    for (let x = 0; x < side; x++) {
      const score = map[y * side + x]!;
      if (score < least || !isHighest(map, side, x, y)) continue;
      found.push({
        x: x + 0.5 + (x > 0 && x < side - 1 ? shift(map, y * side + x, 1) : 0),
        y: y + 0.5 + (y > 0 && y < rows - 1 ? shift(map, y * side + x, side) : 0),
        score,
      });
    }
  }
  found.sort((a, b) => b.score - a.score);
  return found.slice(0, most);
}

/** Of equal neighbours the first in reading order is the peak. */
function isHighest(map: Float32Array, side: number, x: number, y: number): boolean {
  const here = y * side + x;
  const lowest = map.length / side - 1;
  for (let v = Math.max(0, y - REACH); v <= Math.min(lowest, y + REACH); v++) {
    for (let u = Math.max(0, x - REACH); u <= Math.min(side - 1, x + REACH); u++) {
      const there = v * side + u;
      if (map[there]! > map[here]! || (map[there]! === map[here]! && there < here)) return false;
    }
  }
  return true;
}

function shift(map: Float32Array, at: number, step: number): number {
  const before = Math.log(map[at - step]! + FLOOR);
  const middle = Math.log(map[at]! + FLOOR);
  const after = Math.log(map[at + step]! + FLOOR);
  const bend = 2 * middle - before - after;
  return bend > 1e-3 ? Math.max(-0.5, Math.min(0.5, (after - before) / (2 * bend))) : 0;
}
