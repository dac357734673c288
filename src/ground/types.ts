import type { Matrix3 } from "../stats/types.ts";

/** A point of a picture in pixels of the upright frame: x to the right, y down. */
export interface ImagePoint {
  x: number;
  y: number;
}

/**
 * A point on the ground in metres. x runs along the row, 0 at the first pole and growing towards the last;
 * y runs across it, 0 at the line through the near pole ends and growing away from the camera.
 */
export interface GroundPoint {
  xM: number;
  yM: number;
}

/** The two ends of one pole as tapped; at least one of them is there. Near = towards the camera. */
export interface PoleTap {
  near?: ImagePoint | undefined;
  far?: ImagePoint | undefined;
}

/** The poles as marked on one frame of a clip; the file given to `npm run demo -- --poles` has this shape. */
export interface PoleMarks {
  /** Time of the frame on which the poles were tapped. */
  timeS: number;
  /** In row order; the first one is x = 0. */
  poles: PoleTap[];
  /** Distance from each pole to the next, metres; one fewer than poles. */
  gapsM: number[];
  /** Length of every pole between its tapped ends, metres; 0.9 is assumed when unknown. */
  poleLengthM?: number | undefined;
  /** Height of the tapped points above the ground, metres; 0 when unknown. */
  poleHeightM?: number | undefined;
  /**
   * Something upright of known height standing in the row on the marked frame, such as the dog at its withers:
   * the foot on the ground and the top straight above it. A last resort where too few pole ends can be seen.
   */
  upright?: { foot: ImagePoint; top: ImagePoint; heightM: number } | undefined;
}

/** How one pole's taps sit against the fitted map. */
export interface PoleResidual {
  pole: number;
  /** Residual along the row, metres (signed). */
  alongM: number;
  /** Residual across the row, metres (signed); null where only one end was tapped. */
  acrossM: number | null;
  /** True where the pole is pointed at as doubtful. */
  suspect: boolean;
}

/** Something about the marks that a person should put right, in a sentence that says what to do. */
export interface GroundProblem {
  kind:
    | "too-few-poles"
    | "wrong-order"
    | "gap-count"
    | "gap-size"
    | "pole-off"
    | "degenerate"
    | "outside-frame"
    | "rough";
  sentence: string;
  /** False: no map could be made. True: a map exists, but look at this. */
  usable: boolean;
  poles: number[];
}

/** The map between the reference picture and the ground: plain data, safe to post to a worker or to store. */
export interface GroundMap {
  /** "plane": both ends of poles were tapped. "row": one end a pole, depth from an assumed camera. */
  kind: "plane" | "row";
  imageToGround: Matrix3;
  groundToImage: Matrix3;
  /** Running x of each pole, metres. */
  poleXM: number[];
  poleLengthM: number;
  /** Height above the ground of the poles' tapped points, metres; 0 where nobody said. */
  poleHeightM?: number | undefined;
  /** Estimated camera place in ground metres (x, y, height), for paw-height correction; null when unknown. */
  camera: { xM: number; yM: number; heightM: number } | null;
  /** Standard deviation of one tap, pixels, as judged from residuals (never under 0.5). */
  tapSdPx: number;
  /** Covariance of the eight free entries of imageToGround, 8 × 8 row by row; null when not estimated. */
  covariance: number[] | null;
  /**
   * Radial distortion where the poles gave evidence of it: the matrices act on pixels freed from it. A ray that
   * an ideal camera draws at distance r·focalPx from the centre is drawn at r·(1 + k1·r²)·focalPx.
   */
  lens?: { k1: number; focalPx: number; centreX: number; centreY: number } | undefined;
}

export interface GroundFit {
  map: GroundMap | null;
  residuals: PoleResidual[];
  problems: GroundProblem[];
}

/** Grey picture, one byte a pixel, row by row. */
export interface GreyPicture {
  data: Uint8Array;
  width: number;
  height: number;
}

/** How one frame's picture lies against the reference frame. Matrices act on upright full-size pixels. */
export interface FrameRegistration {
  timeS: number;
  frameToReference: Matrix3;
  /** False where tracking was lost; the matrix is then the last good one and must not be trusted. */
  ok: boolean;
}

/** What the camera did, for the screen and for result.json. */
export interface CameraReport {
  kind: "still" | "moving";
  /** Largest shift of the picture against the reference frame, pixels. */
  largestShiftPx: number;
  /** Stretches in which the background was lost, seconds. */
  lost: [number, number][];
}
