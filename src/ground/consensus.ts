import jsfeat from "jsfeat";
import type { Matrix3 } from "../stats/types.ts";
import { fitHomography } from "./homography.ts";
import type { ImagePoint } from "./types.ts";

export interface Consensus {
  homography: Matrix3;
  /** Which pairs agree with it. */
  agrees: boolean[];
  /** Root mean square distance of the agreeing pairs, in units of `to`. */
  rmsPx: number;
}

/**
 * The homography on which most pairs agree (random sample consensus, Fischler and Bolles, Commun ACM 1981;24:381),
 * then least squares over the agreeing ones. The samples are drawn from a fixed sequence, so that the same clip
 * always gives the same answer; that is why the library's own search, fed by Math.random, is not used.
 * @param withinPx how near a pair must come to agree.
 */
export function agreedHomography(
  from: readonly ImagePoint[],
  to: readonly ImagePoint[],
  withinPx: number,
): Consensus | null {
  const count = from.length;
  if (count < 4) return null;
  const random = fixedSequence(count);
  const solver = new jsfeat.motion_model.homography2d();
  const model = new jsfeat.matrix_t(3, 3, jsfeat.F32_t | jsfeat.C1_t);
  let best: Matrix3 | null = null;
  let bestCost = Number.POSITIVE_INFINITY;
  let trials = 150;
  for (let trial = 0; trial < trials; trial++) {
    const sample = fourOf(count, random);
    const corners = sample.map((i) => from[i]!);
    if (flat(corners)) continue;
    const images = sample.map((i) => to[i]!);
    if (solver.run(corners, images, model, 4) <= 0) continue;
    const h = Array.from(model.data) as Matrix3;
    let cost = 0;
    let agreeing = 0;
    for (let i = 0; i < count; i++) {
      const d2 = squaredMiss(h, from[i]!, to[i]!);
      // MSAC (Torr and Zisserman, CVIU 2000;78:138): near misses cost less than far ones.
      if (d2 < withinPx * withinPx) {
        cost += d2;
        agreeing++;
      } else cost += withinPx * withinPx;
    }
    if (cost < bestCost) {
      bestCost = cost;
      best = h;
      const share = agreeing / count;
      // Enough trials to have drawn one clean sample with probability 0.999.
      trials = Math.min(trials, Math.ceil(Math.log(0.001) / Math.log(1 - Math.max(share ** 4, 1e-3))) + 10);
    }
  }
  return best && settle(best, from, to, withinPx);
}

/** Least squares and agreement in turn, until the same pairs agree. */
function settle(
  start: Matrix3,
  from: readonly ImagePoint[],
  to: readonly ImagePoint[],
  withinPx: number,
): Consensus | null {
  let homography = start;
  let agrees: boolean[] = [];
  for (let round = 0; round < 5; round++) {
    const now = from.map((p, i) => squaredMiss(homography, p, to[i]!) < withinPx * withinPx);
    if (round > 0 && now.every((value, i) => value === agrees[i])) break;
    agrees = now;
    const fitted = fitHomography(
      from.filter((_, i) => now[i]),
      to.filter((_, i) => now[i]),
    );
    if (!fitted) return null;
    homography = fitted;
  }
  const misses = from.flatMap((p, i) => (agrees[i] ? [squaredMiss(homography, p, to[i]!)] : []));
  return { homography, agrees, rmsPx: Math.sqrt(misses.reduce((sum, d) => sum + d, 0) / misses.length) };
}

function squaredMiss(h: Matrix3, p: ImagePoint, q: ImagePoint): number {
  const w = h[6] * p.x + h[7] * p.y + h[8];
  const dx = (h[0] * p.x + h[1] * p.y + h[2]) / w - q.x;
  const dy = (h[3] * p.x + h[4] * p.y + h[5]) / w - q.y;
  return dx * dx + dy * dy;
}

function fourOf(count: number, random: () => number): number[] {
  const chosen = new Set<number>();
  while (chosen.size < 4) chosen.add(Math.floor(random() * count));
  return [...chosen];
}

/** Three of the four nearly in a line: such a sample says nothing. */
function flat(p: readonly ImagePoint[]): boolean {
  return [
    [0, 1, 2],
    [0, 1, 3],
    [0, 2, 3],
    [1, 2, 3],
  ].some(([i, j, k]) => {
    const [a, b, c] = [p[i!]!, p[j!]!, p[k!]!];
    return Math.abs((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)) < 200;
  });
}

/** Numbers in [0, 1) from a linear congruential generator (Knuth's MMIX constants are too wide; these are Numerical Recipes'). */
function fixedSequence(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}
