import jsfeat, { type matrix_t, type PointLike, type pyramid_t } from "jsfeat";
import type { Matrix3 } from "../stats/types.ts";
import type { ImagePoint } from "./types.ts";

/** A box of a grey picture, pixels. */
export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** Window of the flow and number of halvings: follows shifts of about 25 px. */
const WINDOW_PX = 15;
const LEVELS = 3;
const GREY = jsfeat.U8_t | jsfeat.C1_t;

/** A picture with its halvings, ready to be followed into another of the same size. */
export interface FlowPicture {
  readonly width: number;
  readonly height: number;
  readonly pyramid: pyramid_t;
}

export function flowPicture(width: number, height: number): FlowPicture {
  const pyramid = new jsfeat.pyramid_t(LEVELS);
  pyramid.allocate(width, height, GREY);
  return { width, height, pyramid };
}

function finest(picture: FlowPicture): matrix_t {
  return picture.pyramid.data[0]!;
}

/** Loads a grey picture, row by row. */
export function load(picture: FlowPicture, grey: Uint8Array): void {
  finest(picture).data.set(grey);
  picture.pyramid.build(finest(picture), true);
}

/** Draws `source` into `target`, each pixel p of the target from targetToSource(p). */
export function loadWarped(target: FlowPicture, source: matrix_t, targetToSource: Matrix3): void {
  const transform = new jsfeat.matrix_t(3, 3, jsfeat.F32_t | jsfeat.C1_t);
  transform.data.set(targetToSource);
  jsfeat.imgproc.warp_perspective(source, finest(target), transform, 0);
  target.pyramid.build(finest(target), true);
}

export function greyMatrix(grey: Uint8Array, width: number, height: number): matrix_t {
  const matrix = new jsfeat.matrix_t(width, height, GREY);
  matrix.data.set(grey);
  return matrix;
}

/** Lucas–Kanade (Bouguet's pyramid form): where each point of `from` is drawn in `to`; null where it was lost. */
export function follow(
  from: FlowPicture,
  to: FlowPicture,
  points: readonly ImagePoint[],
): (ImagePoint | null)[] {
  const count = points.length;
  const start = new Float32Array(2 * count);
  const end = new Float32Array(2 * count);
  const status = new Uint8Array(count);
  points.forEach((p, i) => {
    start[2 * i] = p.x;
    start[2 * i + 1] = p.y;
  });
  jsfeat.optical_flow_lk.track(
    from.pyramid,
    to.pyramid,
    start,
    end,
    count,
    WINDOW_PX,
    20,
    status,
    0.01,
    1e-4,
  );
  return points.map((_, i) => (status[i] ? { x: end[2 * i]!, y: end[2 * i + 1]! } : null));
}

const COLUMNS = 10;
const ROWS = 6;

/**
 * Up to `count` points that can be followed, spread over the picture and none in a box of `avoid`.
 * Thresholds fall where the picture is plain (a mat, a hall's floor).
 */
export function trackablePoints(picture: FlowPicture, count: number, avoid: readonly Box[]): ImagePoint[] {
  const { width, height } = picture;
  const found: PointLike[] = Array.from({ length: (width * height) >> 2 }, () => ({ x: 0, y: 0, score: 0 }));
  const border = WINDOW_PX + 1;
  let corners: PointLike[] = [];
  for (const [laplacian, eigenvalue] of [
    [30, 25],
    [12, 8],
    [6, 3],
  ] as const) {
    jsfeat.yape06.laplacian_threshold = laplacian;
    jsfeat.yape06.min_eigen_value_threshold = eigenvalue;
    const n = jsfeat.yape06.detect(finest(picture), found, border);
    corners = found.slice(0, n).filter((p) => !avoid.some((box) => inside(box, p)));
    if (corners.length >= 3 * count) break;
  }
  const cells = Array.from({ length: COLUMNS * ROWS }, (): PointLike[] => []);
  for (const corner of corners) {
    const column = Math.floor((corner.x * COLUMNS) / width);
    const row = Math.floor((corner.y * ROWS) / height);
    cells[row * COLUMNS + column]!.push(corner);
  }
  for (const cell of cells) cell.sort((a, b) => b.score - a.score);
  const chosen: ImagePoint[] = [];
  for (let rank = 0; chosen.length < count && cells.some((cell) => rank < cell.length); rank++)
    for (const cell of cells) {
      const p = cell[rank];
      if (p && chosen.length < count && !chosen.some((q) => Math.hypot(q.x - p.x, q.y - p.y) < 6))
        chosen.push({ x: p.x, y: p.y });
    }
  return chosen;
}

export function inside(box: Box, p: ImagePoint): boolean {
  return p.x >= box.x && p.y >= box.y && p.x < box.x + box.width && p.y < box.y + box.height;
}
