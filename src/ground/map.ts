import type { Matrix3 } from "../stats/types.ts";
import { applyHomography, invert3 } from "./homography.ts";
import type { GroundMap, GroundPoint, ImagePoint, PoleTap } from "./types.ts";

/**
 * The ground place that the camera drew at a pixel of the reference picture. Not finite on the horizon and
 * without meaning above it (see `groundStandardError`).
 * @param heightM height of the drawn point above the ground (a paw's marked point lies some centimetres up).
 *   Corrected by the factor (H − h)/H about the camera's foot point; left out where the camera is not known.
 */
export function imageToGround(map: GroundMap, pixel: ImagePoint, heightM = 0): GroundPoint {
  const flat = applyHomography(map.imageToGround, straighten(map, pixel));
  return raise(map, { xM: flat.x, yM: flat.y }, heightM, "down");
}

/** The pixel of the reference picture at which a ground place, or a point heightM above it, is drawn. */
export function groundToImage(map: GroundMap, ground: GroundPoint, heightM = 0): ImagePoint {
  const flat = raise(map, ground, heightM, "up");
  return bend(map, applyHomography(map.groundToImage, { x: flat.xM, y: flat.yM }));
}

/**
 * How short a length across the row looks beside the same length along it, at the row's middle: 1 from straight above,
 * 0 from the height of the ground.
 */
export function foreshortening(map: GroundMap): number {
  const middle = { xM: (map.poleXM.at(-1) ?? 0) / 2, yM: map.poleLengthM / 2 };
  const side = Math.min(0.1, map.poleLengthM / 4);
  const along = between(map, { ...middle, xM: middle.xM - side }, { ...middle, xM: middle.xM + side });
  const across = between(map, { ...middle, yM: middle.yM - side }, { ...middle, yM: middle.yM + side });
  // Only what stands at right angles to the row: seen aslant, the way across leans along it.
  return Math.abs(along.x * across.y - along.y * across.x) / (along.x ** 2 + along.y ** 2);
}

function between(map: GroundMap, from: GroundPoint, to: GroundPoint): ImagePoint {
  const [a, b] = [groundToImage(map, from), groundToImage(map, to)];
  return { x: b.x - a.x, y: b.y - a.y };
}

/** A pole tapped on another frame, as it would lie on the reference picture; its ends may fall outside that. */
export function carryTap(tap: PoleTap, frameToReference: Matrix3): PoleTap {
  return {
    near: tap.near && applyHomography(frameToReference, tap.near),
    far: tap.far && applyHomography(frameToReference, tap.far),
  };
}

/** Standard error of a place, metres. */
export interface GroundStandardError {
  xM: number;
  yM: number;
}

/**
 * How well `imageToGround` knows a place: the map's own uncertainty (taps, assumed camera), and that of the pixel.
 * First-order; infinite at or above the horizon.
 * @param pixelSdPx standard deviation of the pixel itself in each direction (paw mark, camera motion).
 * @param heightSdM standard deviation of the point's height above the ground.
 */
export function groundStandardError(
  map: GroundMap,
  pixel: ImagePoint,
  pixelSdPx = 0,
  heightSdM = 0,
): GroundStandardError {
  const spread = groundCovariance(map, pixel, pixelSdPx, heightSdM);
  return spread
    ? { xM: Math.sqrt(spread.xx), yM: Math.sqrt(spread.yy) }
    : { xM: Number.POSITIVE_INFINITY, yM: Number.POSITIVE_INFINITY };
}

/** Covariance of a place, m²; null at or above the horizon. */
function groundCovariance(map: GroundMap, pixel: ImagePoint, pixelSdPx: number, heightSdM: number) {
  const h = map.imageToGround;
  const p = straighten(map, pixel);
  const w = h[6] * p.x + h[7] * p.y + h[8];
  if (!onGroundSide(map, w)) return null;
  const x = (h[0] * p.x + h[1] * p.y + h[2]) / w;
  const y = (h[3] * p.x + h[4] * p.y + h[5]) / w;
  const byEntry = [
    xByEntry(p, w, x),
    [0, 0, 0, p.x / w, p.y / w, 1 / w, (-y * p.x) / w, (-y * p.y) / w],
  ] as const;
  const byPixel = [
    [(h[0] - x * h[6]) / w, (h[1] - x * h[7]) / w],
    [(h[3] - y * h[6]) / w, (h[4] - y * h[7]) / w],
  ] as const;
  const byHeight = map.camera
    ? ([(x - map.camera.xM) / map.camera.heightM, (y - map.camera.yM) / map.camera.heightM] as const)
    : ([0, 0] as const);
  const between = (a: 0 | 1, b: 0 | 1) => {
    let own = 0;
    if (map.covariance)
      for (let i = 0; i < 8; i++)
        for (let j = 0; j < 8; j++) own += byEntry[a][i]! * byEntry[b][j]! * map.covariance[8 * i + j]!;
    const [u, v] = [byPixel[a], byPixel[b]];
    return (
      (a === b ? Math.max(0, own) : own) +
      (u[0] * v[0] + u[1] * v[1]) * pixelSdPx ** 2 +
      byHeight[a] * byHeight[b] * heightSdM ** 2
    );
  };
  return { xx: between(0, 0), xy: between(0, 1), yy: between(1, 1) };
}

/** Change of x with the eight free entries of imageToGround; w is the third homogeneous coordinate. */
function xByEntry(p: ImagePoint, w: number, x: number): number[] {
  return [p.x / w, p.y / w, 1 / w, 0, 0, 0, (-x * p.x) / w, (-x * p.y) / w];
}

/**
 * How well the length along x between two pixels' places is known, metres: the map's own uncertainty and that of a
 * height above the ground which both have in common. Infinite at or above the horizon.
 */
export function lengthStandardError(
  map: GroundMap,
  from: ImagePoint,
  to: ImagePoint,
  heightSdM: number,
): number {
  const h = map.imageToGround;
  const ends = [from, to].map((pixel) => {
    const p = straighten(map, pixel);
    const w = h[6] * p.x + h[7] * p.y + h[8];
    const x = (h[0] * p.x + h[1] * p.y + h[2]) / w;
    return { x, byEntry: xByEntry(p, w, x), seen: onGroundSide(map, w) };
  });
  const [a, b] = ends as [(typeof ends)[0], (typeof ends)[0]];
  if (!a.seen || !b.seen) return Number.POSITIVE_INFINITY;
  let own = 0;
  if (map.covariance)
    for (let i = 0; i < 8; i++)
      for (let j = 0; j < 8; j++)
        own += (b.byEntry[i]! - a.byEntry[i]!) * (b.byEntry[j]! - a.byEntry[j]!) * map.covariance[8 * i + j]!;
  const stretch = map.camera ? ((b.x - a.x) * heightSdM) / map.camera.heightM : 0;
  return Math.sqrt(Math.max(0, own) + stretch ** 2);
}

/** What is known of a marked paw besides its pixel. */
export interface PawMark {
  /** Height of the mark above the ground and how surely it is known, metres. */
  heightM?: number | undefined;
  heightSdM?: number | undefined;
  /** Standard deviation of the mark in each direction, pixels. */
  pixelSdPx?: number | undefined;
  /** Where across the row the dog goes; between the pole ends unless given. */
  lane?: { yM: number; sdM: number } | undefined;
}

/** A place with standard errors, metres. */
export interface Placed extends GroundPoint {
  xSeM: number;
  ySeM: number;
}

/**
 * Where on the ground a paw was marked, when it is also known about where across the row the dog goes. Depth is what
 * a low camera, a paw mark of uncertain height, and above all a map from one row of pole ends know least, and an
 * error of depth drags x along; so the two are weighed against each other (linear Gaussian update).
 * Standard errors are infinite at or above the horizon.
 */
export function placeOnGround(map: GroundMap, pixel: ImagePoint, mark: PawMark = {}): Placed {
  const seen = imageToGround(map, pixel, mark.heightM ?? 0);
  const spread = groundCovariance(map, pixel, mark.pixelSdPx ?? 0, mark.heightSdM ?? 0);
  if (!spread) return { ...seen, xSeM: Number.POSITIVE_INFINITY, ySeM: Number.POSITIVE_INFINITY };
  // Even odds over the pole's length have this standard deviation.
  const lane = mark.lane ?? { yM: map.poleLengthM / 2, sdM: map.poleLengthM / Math.sqrt(12) };
  const total = spread.yy + lane.sdM ** 2;
  const off = lane.yM - seen.yM;
  return {
    xM: seen.xM + (spread.xy / total) * off,
    yM: seen.yM + (spread.yy / total) * off,
    xSeM: Math.sqrt(Math.max(0, spread.xx - spread.xy ** 2 / total)),
    ySeM: Math.sqrt(spread.yy * (lane.sdM ** 2 / total)),
  };
}

/** Where in a picture paws near the row can be. */
export interface RowRegion {
  /** Corners in order, pixels, within the frame. Empty where the row is not in the picture. */
  polygon: ImagePoint[];
  /** The box around the polygon; null where that is empty. */
  box: { x: number; y: number; width: number; height: number } | null;
}

/**
 * The part of a frame in which paws on or over the ground near the row can be drawn.
 * @param reach how far before the first and after the last pole, beside the row (0.2 m unless given), and above
 *   the ground; metres.
 * @param frameToReference where the camera moves: the region is then that of the frame, not of the reference.
 */
export function rowRegion(
  map: GroundMap,
  frame: { widthPx: number; heightPx: number },
  reach: { beforeM: number; afterM: number; aboveM: number; besideM?: number | undefined },
  frameToReference?: Matrix3,
): RowRegion {
  const referenceToFrame = frameToReference && invert3(frameToReference);
  const beside = reach.besideM ?? 0.2;
  const [fromX, toX] = [-reach.beforeM, (map.poleXM.at(-1) ?? 0) + reach.afterM];
  const [nearY, farY] = [-beside, map.poleLengthM + beside];
  const drawn: ImagePoint[] = [];
  const steps = 40;
  for (let i = 0; i <= steps; i++)
    for (const yM of [nearY, farY])
      for (const height of [0, reach.aboveM]) {
        const xM = fromX + ((toX - fromX) * i) / steps;
        const p = drawnInFront(map, { xM, yM }, height);
        if (p) drawn.push(referenceToFrame ? applyHomography(referenceToFrame, p) : p);
      }
  const polygon = clipToFrame(convexHull(drawn), frame);
  if (polygon.length < 3) return { polygon: [], box: null };
  const xs = polygon.map((p) => p.x);
  const ys = polygon.map((p) => p.y);
  const [x, y] = [Math.min(...xs), Math.min(...ys)];
  return { polygon, box: { x, y, width: Math.max(...xs) - x, height: Math.max(...ys) - y } };
}

function drawnInFront(map: GroundMap, ground: GroundPoint, heightM: number): ImagePoint | null {
  const g = map.groundToImage;
  const depth = (at: GroundPoint) => g[6] * at.xM + g[7] * at.yM + g[8];
  const middle = { xM: (map.poleXM.at(-1) ?? 0) / 2, yM: map.poleLengthM / 2 };
  // Nearer than a tenth of the row's depth a point is as good as beside the camera.
  if (!(depth(ground) / depth(middle) > 0.1)) return null;
  const p = groundToImage(map, ground, heightM);
  return Number.isFinite(p.x) && Number.isFinite(p.y) ? p : null;
}

/** True for a ray that meets the ground in front of the camera: on the row's side of the horizon. */
function onGroundSide(map: GroundMap, w: number): boolean {
  const middle = applyHomography(map.groundToImage, {
    x: (map.poleXM.at(-1) ?? 0) / 2,
    y: map.poleLengthM / 2,
  });
  const h = map.imageToGround;
  return w * (h[6] * middle.x + h[7] * middle.y + h[8]) > 0;
}

function raise(map: GroundMap, g: GroundPoint, heightM: number, way: "up" | "down"): GroundPoint {
  const camera = map.camera;
  if (heightM === 0 || !camera) return g;
  const factor = (camera.heightM - heightM) / camera.heightM;
  const by = way === "down" ? factor : 1 / factor;
  return {
    xM: camera.xM + (g.xM - camera.xM) * by,
    yM: camera.yM + (g.yM - camera.yM) * by,
  };
}

/** A pixel as a lens without radial distortion would have drawn it. */
export function straighten(map: GroundMap, p: ImagePoint): ImagePoint {
  const lens = map.lens;
  if (!lens) return p;
  const drawn = Math.hypot(p.x - lens.centreX, p.y - lens.centreY) / lens.focalPx;
  if (drawn === 0) return p;
  let ideal = drawn;
  for (let i = 0; i < 12; i++)
    ideal -= (ideal * (1 + lens.k1 * ideal ** 2) - drawn) / (1 + 3 * lens.k1 * ideal ** 2);
  const by = ideal / drawn;
  return { x: lens.centreX + (p.x - lens.centreX) * by, y: lens.centreY + (p.y - lens.centreY) * by };
}

function bend(map: GroundMap, p: ImagePoint): ImagePoint {
  const lens = map.lens;
  if (!lens) return p;
  const r2 = ((p.x - lens.centreX) ** 2 + (p.y - lens.centreY) ** 2) / lens.focalPx ** 2;
  const by = 1 + lens.k1 * r2;
  return { x: lens.centreX + (p.x - lens.centreX) * by, y: lens.centreY + (p.y - lens.centreY) * by };
}

/** Andrew's monotone chain (Inf Process Lett 1979;9:216). */
function convexHull(points: readonly ImagePoint[]): ImagePoint[] {
  const sorted = [...points].sort((a, b) => a.x - b.x || a.y - b.y);
  const half = (ordered: readonly ImagePoint[]) => {
    const chain: ImagePoint[] = [];
    for (const p of ordered) {
      while (chain.length >= 2 && turn(chain.at(-2)!, chain.at(-1)!, p) <= 0) chain.pop();
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

function turn(a: ImagePoint, b: ImagePoint, c: ImagePoint): number {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

/** Sutherland–Hodgman (Commun ACM 1974;17:32). */
function clipToFrame(polygon: ImagePoint[], frame: { widthPx: number; heightPx: number }): ImagePoint[] {
  const sides: ((p: ImagePoint) => number)[] = [
    (p) => p.x,
    (p) => frame.widthPx - p.x,
    (p) => p.y,
    (p) => frame.heightPx - p.y,
  ];
  return sides.reduce((corners, inside) => {
    const kept: ImagePoint[] = [];
    corners.forEach((to, i) => {
      const from = corners.at(i - 1)!;
      const [a, b] = [inside(from), inside(to)];
      if (a < 0 !== b < 0) {
        const t = a / (a - b);
        kept.push({ x: from.x + t * (to.x - from.x), y: from.y + t * (to.y - from.y) });
      }
      if (b >= 0) kept.push(to);
    });
    return kept;
  }, polygon);
}
