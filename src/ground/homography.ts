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
  const pairs: Pairs = {
    from: from.map((p) => applyHomography(a, p)),
    to: to.map((p) => applyHomography(b, p)),
    weights: weights ?? new Array<number>(count).fill(1),
  };
  const start = directLinear(pairs);
  if (!start) return null;
  const full = multiply3(invert3(b), multiply3(refine(start, pairs), a));
  return full.every(Number.isFinite) ? scaledToLast(full) : null;
}

interface Pairs {
  from: ImagePoint[];
  to: ImagePoint[];
  weights: readonly number[];
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

function directLinear({ from, to, weights }: Pairs): Matrix3 | null {
  const normal = new Float64Array(81);
  from.forEach((p, i) => {
    const q = to[i]!;
    addSquare(normal, 9, [p.x, p.y, 1, 0, 0, 0, -q.x * p.x, -q.x * p.y, -q.x], weights[i]!);
    addSquare(normal, 9, [0, 0, 0, p.x, p.y, 1, -q.y * p.x, -q.y * p.y, -q.y], weights[i]!);
  });
  const eigen = new EigenvalueDecomposition(Matrix.from1DArray(9, 9, normal), { assumeSymmetric: true });
  const values = eigen.realEigenvalues;
  const order = values.map((_, k) => k).sort((i, j) => values[i]! - values[j]!);
  // A second vanishing eigenvalue: more than one homography fits.
  if (!(values[order[1]!]! > 1e-10 * values[order[8]!]!)) return null;
  const h = eigen.eigenvectorMatrix.getColumn(order[0]!) as Matrix3;
  if (!(Math.abs(h[8]) > 1e-9)) return null;
  return scaledToLast(h);
}

function refine(start: Matrix3, pairs: Pairs): Matrix3 {
  let h = start;
  let cost = squaredError(h, pairs);
  for (let iteration = 0; iteration < 20; iteration++) {
    const step = gaussNewtonStep(h, pairs);
    if (!step) break;
    const next = h.map((entry, k) => (k < 8 ? entry + step[k]! : 1)) as Matrix3;
    const nextCost = squaredError(next, pairs);
    if (!(nextCost <= cost)) break;
    const gained = cost - nextCost;
    h = next;
    cost = nextCost;
    if (gained <= 1e-12 * cost) break;
  }
  return h;
}

function gaussNewtonStep(h: Matrix3, { from, to, weights }: Pairs): number[] | null {
  const normal = new Float64Array(64);
  const right = new Float64Array(8);
  from.forEach((p, i) => {
    const w = h[6] * p.x + h[7] * p.y + 1;
    const x = (h[0] * p.x + h[1] * p.y + h[2]) / w;
    const y = (h[3] * p.x + h[4] * p.y + h[5]) / w;
    const [px, py] = [p.x / w, p.y / w];
    const forX = [px, py, 1 / w, 0, 0, 0, -x * px, -x * py];
    const forY = [0, 0, 0, px, py, 1 / w, -y * px, -y * py];
    const weight = weights[i]!;
    addSquare(normal, 8, forX, weight);
    addSquare(normal, 8, forY, weight);
    const [missX, missY] = [weight * (to[i]!.x - x), weight * (to[i]!.y - y)];
    for (let k = 0; k < 8; k++) right[k]! += missX * forX[k]! + missY * forY[k]!;
  });
  try {
    const step = solve(Matrix.from1DArray(8, 8, normal), Matrix.columnVector(right)).to1DArray();
    return step.every(Number.isFinite) ? step : null;
  } catch {
    return null;
  }
}

function addSquare(normal: Float64Array, size: number, row: readonly number[], weight: number): void {
  for (let i = 0; i < size; i++) {
    const scaled = weight * row[i]!;
    if (scaled === 0) continue;
    for (let j = 0; j < size; j++) normal[size * i + j]! += scaled * row[j]!;
  }
}

function squaredError(h: Matrix3, { from, to, weights }: Pairs): number {
  let sum = 0;
  for (let i = 0; i < from.length; i++) {
    const q = applyHomography(h, from[i]!);
    sum += weights[i]! * ((q.x - to[i]!.x) ** 2 + (q.y - to[i]!.y) ** 2);
  }
  return sum;
}
