import { EigenvalueDecomposition, inverse, Matrix, solve } from "ml-matrix";
import type { Matrix3 } from "../stats/types.ts";
import type { ImagePoint } from "./types.ts";

export const IDENTITY: Matrix3 = [1, 0, 0, 0, 1, 0, 0, 0, 1];

/** Where a homography takes a point. The result is not finite for a point of its vanishing line. */
export function applyHomography(m: Matrix3, p: ImagePoint): ImagePoint {
  const w = m[6] * p.x + m[7] * p.y + m[8];
  return { x: (m[0] * p.x + m[1] * p.y + m[2]) / w, y: (m[3] * p.x + m[4] * p.y + m[5]) / w };
}

/** a · b: first b, then a. */
export function multiply3(a: Matrix3, b: Matrix3): Matrix3 {
  const product = new Array<number>(9).fill(0) as Matrix3;
  for (let r = 0; r < 3; r++)
    for (let c = 0; c < 3; c++)
      product[3 * r + c] = a[3 * r]! * b[c]! + a[3 * r + 1]! * b[3 + c]! + a[3 * r + 2]! * b[6 + c]!;
  return product;
}

/** The inverse, scaled so that its last entry is 1 wherever that entry is not nought. */
export function invert3(m: Matrix3): Matrix3 {
  return scaledToLast(inverse(new Matrix([m.slice(0, 3), m.slice(3, 6), m.slice(6)])).to1DArray() as Matrix3);
}

/** The same map with its last entry 1; with length 1 where that entry vanishes. */
export function scaledToLast(m: Matrix3): Matrix3 {
  const length = Math.hypot(...m);
  const by = Math.abs(m[8]) > 1e-12 * length ? m[8] : length;
  return m.map((entry) => entry / by) as Matrix3;
}

/** The map that takes pixel coordinates of a picture to those of the same picture drawn `scale` times as wide. */
export function scaling(scale: number): Matrix3 {
  return [scale, 0, 0, 0, scale, 0, 0, 0, 1];
}

/**
 * The homography that takes `from` to `to` with the least weighted squared error in `to`, h33 = 1.
 * Normalised direct linear transform (Hartley, IEEE PAMI 1997;19:580), then Gauss–Newton on the errors in `to`.
 * Null with fewer than four points or when they do not fix a homography (three of four in a line, equal points).
 */
export function fitHomography(
  from: readonly ImagePoint[],
  to: readonly ImagePoint[],
  weights?: readonly number[],
): Matrix3 | null {
  const count = from.length;
  if (count < 4 || to.length !== count) return null;
  const a = normalisation(from);
  const b = normalisation(to);
  if (!a || !b) return null;
  const source = from.map((p) => applyHomography(a, p));
  const target = to.map((p) => applyHomography(b, p));
  const weight = (i: number) => weights?.[i] ?? 1;

  const start = directLinear(source, target, weight);
  if (!start) return null;
  let h = start;
  let cost = squaredError(h, source, target, weight);
  for (let iteration = 0; iteration < 20; iteration++) {
    const step = gaussNewtonStep(h, source, target, weight);
    if (!step) break;
    const next = h.map((entry, k) => (k < 8 ? entry + step[k]! : 1)) as Matrix3;
    const nextCost = squaredError(next, source, target, weight);
    if (!(nextCost <= cost)) break;
    const gained = cost - nextCost;
    h = next;
    cost = nextCost;
    if (gained <= 1e-15 * cost || Math.max(...step.map(Math.abs)) < 1e-14) break;
  }
  const full = multiply3(invert3(b), multiply3(h, a));
  return full.every(Number.isFinite) ? scaledToLast(full) : null;
}

/** Shifts the points' centre to the origin and scales their mean distance from it to √2. */
function normalisation(points: readonly ImagePoint[]): Matrix3 | null {
  const x = points.reduce((sum, p) => sum + p.x, 0) / points.length;
  const y = points.reduce((sum, p) => sum + p.y, 0) / points.length;
  const distance = points.reduce((sum, p) => sum + Math.hypot(p.x - x, p.y - y), 0) / points.length;
  if (!(distance > 1e-9)) return null;
  const s = Math.SQRT2 / distance;
  return [s, 0, -s * x, 0, s, -s * y, 0, 0, 1];
}

function directLinear(
  from: readonly ImagePoint[],
  to: readonly ImagePoint[],
  weight: (i: number) => number,
): Matrix3 | null {
  const normal = Matrix.zeros(9, 9);
  from.forEach((p, i) => {
    const q = to[i]!;
    const rows = [
      [p.x, p.y, 1, 0, 0, 0, -q.x * p.x, -q.x * p.y, -q.x],
      [0, 0, 0, p.x, p.y, 1, -q.y * p.x, -q.y * p.y, -q.y],
    ];
    addOuterProducts(normal, rows, weight(i));
  });
  const eigen = new EigenvalueDecomposition(normal, { assumeSymmetric: true });
  const values = eigen.realEigenvalues;
  const order = values.map((_, k) => k).sort((i, j) => values[i]! - values[j]!);
  // A second vanishing eigenvalue: more than one homography fits.
  if (!(values[order[1]!]! > 1e-10 * values[order[8]!]!)) return null;
  const h = eigen.eigenvectorMatrix.getColumn(order[0]!) as Matrix3;
  if (!(Math.abs(h[8]) > 1e-9)) return null;
  return scaledToLast(h);
}

function gaussNewtonStep(
  h: Matrix3,
  from: readonly ImagePoint[],
  to: readonly ImagePoint[],
  weight: (i: number) => number,
): number[] | null {
  const normal = Matrix.zeros(8, 8);
  const right = Matrix.zeros(8, 1);
  from.forEach((p, i) => {
    const w = h[6] * p.x + h[7] * p.y + 1;
    const x = (h[0] * p.x + h[1] * p.y + h[2]) / w;
    const y = (h[3] * p.x + h[4] * p.y + h[5]) / w;
    const rows = [
      [p.x / w, p.y / w, 1 / w, 0, 0, 0, (-x * p.x) / w, (-x * p.y) / w],
      [0, 0, 0, p.x / w, p.y / w, 1 / w, (-y * p.x) / w, (-y * p.y) / w],
    ];
    addOuterProducts(normal, rows, weight(i));
    const misses = [to[i]!.x - x, to[i]!.y - y];
    rows.forEach((row, r) => {
      for (let k = 0; k < 8; k++)
        right.set(k, 0, right.get(k, 0) + weight(i) * (row[k] ?? 0) * (misses[r] ?? 0));
    });
  });
  try {
    const step = solve(normal, right).to1DArray();
    return step.every(Number.isFinite) ? step : null;
  } catch {
    return null;
  }
}

function addOuterProducts(normal: Matrix, rows: readonly number[][], weight: number): void {
  for (const row of rows)
    for (let i = 0; i < row.length; i++) {
      const scaled = weight * (row[i] ?? 0);
      if (scaled === 0) continue;
      for (let j = 0; j < row.length; j++) normal.set(i, j, normal.get(i, j) + scaled * (row[j] ?? 0));
    }
}

function squaredError(
  h: Matrix3,
  from: readonly ImagePoint[],
  to: readonly ImagePoint[],
  weight: (i: number) => number,
): number {
  return from.reduce((sum, p, i) => {
    const q = applyHomography(h, p);
    return sum + weight(i) * ((q.x - to[i]!.x) ** 2 + (q.y - to[i]!.y) ** 2);
  }, 0);
}
