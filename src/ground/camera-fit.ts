import { CholeskyDecomposition, Matrix } from "ml-matrix";
import type { Matrix3 } from "../stats/types.ts";
import { type Camera, cameraFromPlane, projector } from "./camera.ts";
import { fitHomography } from "./homography.ts";
import type { ImagePoint } from "./types.ts";

/** A tapped point whose place on the ground is known but for a few unknowns of the fit. Metres. */
export interface Sighting {
  pole: number;
  image: ImagePoint;
  x: number;
  /** How many pole lengths it lies behind the near line: 0 or 1. */
  lengths: number;
  z: number;
  /** Lies beyond the gap whose true size is asked for. */
  beyondGap?: boolean | undefined;
  /** Stands where the upright thing of known height stands. */
  upright?: boolean | undefined;
}

export interface Prior {
  mean: number;
  /** 0 holds the unknown at its mean. */
  sd: number;
}

const UNKNOWNS = [
  "logFocal",
  "centreX",
  "centreY",
  "logLength",
  "yaw",
  "pitch",
  "roll",
  "x",
  "y",
  "logHeight",
  "radial",
  "gapChange",
  "uprightX",
  "uprightY",
] as const;
type Unknown = (typeof UNKNOWNS)[number];
export type Unknowns = Record<Unknown, number>;
export type Priors = Record<Unknown, Prior>;

/** Standard deviation with which poles are laid by tape measure, metres. Common practice, no source. */
const LAID_SD_M = 0.003;
const DEGREE = Math.PI / 180;
const FIXED_AT_ZERO: Prior = { mean: 0, sd: 0 };

/**
 * What is believed of a phone on the sideline before a tap is looked at. All of it common practice, no source;
 * wide enough that taps on both ends of three poles decide everything by themselves.
 * @param rowMiddleM x of the row's middle.
 */
export function phonePriors(
  frame: { widthPx: number; heightPx: number },
  rowMiddleM: number,
  poleLength: Prior,
): Priors {
  const longSide = Math.max(frame.widthPx, frame.heightPx);
  return {
    // A phone's main camera in video mode: 0.7 to 1.0 of the long side; wide angle and tele lie two and three sd off.
    logFocal: { mean: Math.log(0.85 * longSide), sd: 0.2 },
    // Stabilisation moves the crop by a few per cent of the picture.
    centreX: { mean: frame.widthPx / 2, sd: 0.02 * longSide },
    centreY: { mean: frame.heightPx / 2, sd: 0.02 * longSide },
    logLength: { mean: Math.log(poleLength.mean), sd: poleLength.sd },
    yaw: { mean: 0, sd: 30 * DEGREE },
    pitch: { mean: 5 * DEGREE, sd: 10 * DEGREE },
    // Held or set up by eye against a level scene.
    roll: { mean: 0, sd: 2.5 * DEGREE },
    x: { mean: rowMiddleM, sd: 4 },
    y: { mean: -4, sd: 3 },
    // Knee to chest height.
    logHeight: { mean: Math.log(0.8), sd: 0.6 },
    radial: FIXED_AT_ZERO,
    gapChange: FIXED_AT_ZERO,
    uprightX: FIXED_AT_ZERO,
    uprightY: FIXED_AT_ZERO,
  };
}

/** The camera that explains the taps best, prior knowledge counted in. */
export interface CameraFit {
  unknowns: Unknowns;
  /** The unknowns that were free, in the order of `covariance`. */
  free: Unknown[];
  covariance: Matrix;
  /** Tapped minus drawn, pixels, by sighting. */
  residualsPx: { x: number; y: number }[];
  /** Sum of squared tap residuals over the taps' variance. */
  tapChiSquare: number;
  /** The same with the priors' share: minus twice the logarithm of the posterior density. */
  cost: number;
  /** Number of unknowns that the taps decided (trace of the hat matrix). */
  decided: number;
}

export function cameraOf(u: Unknowns): Camera {
  return {
    focalPx: Math.exp(u.logFocal),
    centreX: u.centreX,
    centreY: u.centreY,
    yaw: u.yaw,
    pitch: u.pitch,
    roll: u.roll,
    x: u.x,
    y: u.y,
    height: Math.exp(u.logHeight),
    radial: u.radial,
  };
}

/** A start that explains the taps to within this many times their noise needs no other beside it. */
const GOOD_ENOUGH = 2;

/** Best of several starts; null when none leads to a camera with all taps in front of it. */
export function fitCamera(
  sightings: readonly Sighting[],
  priors: Priors,
  tapSdPx: number,
  starts: readonly Unknowns[],
): CameraFit | null {
  let best: CameraFit | null = null;
  for (const start of starts) {
    const fit = descend(sightings, priors, tapSdPx, start);
    if (fit && (!best || fit.cost < best.cost)) best = fit;
    if (best && best.cost < GOOD_ENOUGH * (2 * sightings.length)) break;
  }
  return best;
}

/** Places from which `fitCamera` may start: from a homography where the taps give one, and a fan of directions. */
export function startsFor(sightings: readonly Sighting[], priors: Priors): Unknowns[] {
  const means = Object.fromEntries(UNKNOWNS.map((k) => [k, priors[k].mean])) as Unknowns;
  const length = Math.exp(means.logLength);
  const taps = sightings.filter((s) => !s.upright);
  const starts: Unknowns[] = [];

  const centre = { x: means.centreX, y: means.centreY };
  const plane = fitHomography(
    taps.map((s) => ({ x: s.x, y: s.lengths * length })),
    taps.map((s) => s.image),
  );
  const closed = plane && cameraFromPlane(plane, centre, Math.exp(means.logFocal));
  if (closed)
    starts.push({
      ...means,
      logFocal: Math.log(closed.focalPx),
      yaw: closed.yaw,
      pitch: closed.pitch,
      roll: closed.roll,
      x: closed.x,
      y: closed.y,
      logHeight: Math.log(closed.height),
    });

  const focal = Math.exp(means.logFocal);
  const height = Math.exp(means.logHeight);
  const mean = (of: (s: Sighting) => number) => taps.reduce((sum, s) => sum + of(s), 0) / taps.length;
  const middle = { x: mean((s) => s.image.x), y: mean((s) => s.image.y) };
  const ground = { x: mean((s) => s.x), y: mean((s) => s.lengths * length) };
  const spread = (of: (s: Sighting) => number) => Math.max(...taps.map(of)) - Math.min(...taps.map(of));
  const rowM = spread((s) => s.x);
  const rowPx = Math.max(
    1,
    spread((s) => s.image.x),
  );
  for (const degrees of [0, -20, 20, -45, 45]) {
    const yaw = degrees * DEGREE;
    const azimuth = yaw + Math.atan((middle.x - centre.x) / focal);
    const distance = Math.max(0.5, (rowM * Math.cos(azimuth) * focal) / rowPx);
    starts.push({
      ...means,
      yaw,
      pitch: Math.atan(height / distance) - Math.atan((middle.y - centre.y) / focal),
      roll: 0,
      x: ground.x - distance * Math.sin(azimuth),
      y: ground.y - distance * Math.cos(azimuth),
    });
  }
  return starts;
}

/** Levenberg–Marquardt on tap residuals and priors, both in units of their standard deviation. */
function descend(
  sightings: readonly Sighting[],
  priors: Priors,
  tapSdPx: number,
  start: Unknowns,
): CameraFit | null {
  const free = UNKNOWNS.filter((k) => priors[k].sd > 0);
  const base = { ...start };
  for (const k of UNKNOWNS) if (priors[k].sd === 0) base[k] = priors[k].mean;
  const unfold = (vector: readonly number[]): Unknowns => {
    const unknowns = { ...base };
    for (let i = 0; i < free.length; i++) unknowns[free[i]!] = vector[i]!;
    return unknowns;
  };
  const misfit = (vector: readonly number[]): number[] | null => {
    const taps = tapResiduals(sightings, unfold(vector));
    return (
      taps && [
        ...taps.flatMap((r) => [r.x / tapSdPx, r.y / tapSdPx]),
        ...free.map((k, i) => (priors[k].mean - vector[i]!) / priors[k].sd),
      ]
    );
  };
  const squares = (values: readonly number[]) => values.reduce((sum, value) => sum + value * value, 0);

  let vector = free.map((k) => start[k]);
  let residuals = misfit(vector);
  if (!residuals) return null;
  let cost = squares(residuals);
  let damping = 1e-3;
  for (let iteration = 0; iteration < 80; iteration++) {
    const jacobian = differentiate(misfit, vector, free, priors);
    if (!jacobian) return null;
    const normal = jacobian.transpose().mmul(jacobian);
    const gradient = jacobian.transpose().mmul(Matrix.columnVector(residuals));
    let gained = 0;
    while (damping < 1e9) {
      const damped = normal.clone();
      for (let k = 0; k < free.length; k++) damped.set(k, k, normal.get(k, k) * (1 + damping));
      const step = new CholeskyDecomposition(damped).solve(gradient).to1DArray();
      const next = vector.map((value, k) => value - step[k]!);
      const nextResiduals = misfit(next);
      const nextCost = nextResiduals ? squares(nextResiduals) : Number.POSITIVE_INFINITY;
      if (nextResiduals && nextCost <= cost) {
        gained = cost - nextCost;
        vector = next;
        residuals = nextResiduals;
        cost = nextCost;
        damping = Math.max(damping / 10, 1e-12);
        break;
      }
      damping *= 10;
    }
    if (damping >= 1e9 || gained <= 1e-10 * (1 + cost)) break;
  }

  const jacobian = differentiate(misfit, vector, free, priors);
  if (!jacobian) return null;
  const decomposition = new CholeskyDecomposition(jacobian.transpose().mmul(jacobian));
  if (!decomposition.isPositiveDefinite()) return null;
  const byTaps = decomposition.solve(Matrix.eye(free.length));
  const unknowns = unfold(vector);
  const residualsPx = tapResiduals(sightings, unknowns);
  if (!residualsPx) return null;
  const priorShare = free.reduce((sum, k, i) => sum + byTaps.get(i, i) / priors[k].sd ** 2, 0);
  const response = byTaps.mmul(jacobian.transpose());
  const covariance = Matrix.add(byTaps, layingCovariance(sightings, unknowns, tapSdPx, response));
  return {
    unknowns,
    free,
    covariance,
    residualsPx,
    tapChiSquare: residualsPx.reduce((sum, r) => sum + (r.x ** 2 + r.y ** 2) / tapSdPx ** 2, 0),
    cost,
    decided: free.length - priorShare,
  };
}

/**
 * What inexactly laid poles add to the covariance of the unknowns: each pole's own error moves all its taps at once
 * and does not show in the scatter across the row, so the taps' residuals alone would understate it.
 * @param response change of the unknowns with the weighted residuals.
 */
function layingCovariance(
  sightings: readonly Sighting[],
  u: Unknowns,
  tapSdPx: number,
  response: Matrix,
): Matrix {
  const draw = projector(cameraOf(u));
  const length = Math.exp(u.logLength);
  const sum = Matrix.zeros(response.rows, response.rows);
  for (const pole of new Set(sightings.filter((s) => !s.upright).map((s) => s.pole))) {
    const push = Matrix.zeros(response.columns, 1);
    sightings.forEach((s, i) => {
      if (s.pole !== pole || s.upright) return;
      const x = s.x + (s.beyondGap ? u.gapChange : 0);
      const [here, there] = [draw(x, s.lengths * length, s.z), draw(x + LAID_SD_M, s.lengths * length, s.z)];
      if (!here || !there) return;
      push.set(2 * i, 0, (there.x - here.x) / tapSdPx);
      push.set(2 * i + 1, 0, (there.y - here.y) / tapSdPx);
    });
    const change = response.mmul(push);
    sum.add(change.mmul(change.transpose()));
  }
  return sum;
}

/** Null when a tap would lie behind the camera. */
function tapResiduals(sightings: readonly Sighting[], u: Unknowns): { x: number; y: number }[] | null {
  const draw = projector(cameraOf(u));
  const length = Math.exp(u.logLength);
  const residuals: { x: number; y: number }[] = [];
  for (const s of sightings) {
    const drawn = s.upright
      ? draw(u.uprightX, u.uprightY, s.z)
      : draw(s.x + (s.beyondGap ? u.gapChange : 0), s.lengths * length, s.z);
    if (!drawn) return null;
    residuals.push({ x: s.image.x - drawn.x, y: s.image.y - drawn.y });
  }
  return residuals;
}

function differentiate(
  misfit: (vector: readonly number[]) => number[] | null,
  vector: readonly number[],
  free: readonly Unknown[],
  priors: Priors,
): Matrix | null {
  const columns: number[][] = [];
  for (let k = 0; k < free.length; k++) {
    const step = 1e-5 * priors[free[k]!].sd;
    const at = (by: number) => misfit(vector.map((value, i) => (i === k ? value + by : value)));
    const [above, below] = [at(step), at(-step)];
    if (!above || !below) return null;
    columns.push(above.map((value, r) => (value - below[r]!) / (2 * step)));
  }
  return new Matrix(columns).transpose();
}

/** Covariance of any function of the unknowns, carried over to first order. */
export function covarianceOf(fit: CameraFit, quantity: (u: Unknowns) => readonly number[]): Matrix {
  const columns = fit.free.map((k, i) => {
    const step = 1e-2 * Math.sqrt(fit.covariance.get(i, i));
    const above = quantity({ ...fit.unknowns, [k]: fit.unknowns[k] + step });
    const below = quantity({ ...fit.unknowns, [k]: fit.unknowns[k] - step });
    return above.map((value, r) => (value - below[r]!) / (2 * step));
  });
  const jacobian = new Matrix(columns).transpose();
  return jacobian.mmul(fit.covariance).mmul(jacobian.transpose());
}

/** Mirrors a plane map for a row whose first pole lies on the right of the picture. */
export function mirrored(planeToImage: Matrix3, mirror: 1 | -1): Matrix3 {
  return planeToImage.map((entry, k) => (k % 3 === 0 ? entry * mirror : entry)) as Matrix3;
}
