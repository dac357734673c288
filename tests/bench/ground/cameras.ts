import { type Camera, project } from "../../../src/ground/camera.ts";
import { applyHomography } from "../../../src/ground/homography.ts";
import { placeOnGround } from "../../../src/ground/map.ts";
import type { GroundMap, PoleMarks } from "../../../src/ground/types.ts";
import type { Matrix3 } from "../../../src/stats/types.ts";
import { normalFrom, phone } from "../../unit/ground-scene.ts";

export const FULL = { widthPx: 1920, heightPx: 1080 };
export const TAP_SD_PX = 1.5;
export const LAID_SD_M = 0.003;
export const PAW_HEIGHT_M = 0.02;
/** How surely the height of the mark is known where the mark is a point of the paw agreed on, as in rendered clips. */
export const KNOWN_PAW_SD_M = 0.003;
export const FPS = 60;
/** The marks of a plain landing: their spread from frame to frame, for how long, and how surely a dog's paws are as high as taken. */
export const PLAIN_MARK = { spreadPx: 3, stanceS: 0.25, heightSdM: 0.008 } as const;

/** What the frames of one stance showed. */
export interface Stance {
  /** Spread of the paw mark over the stance, pixels (standard deviation of one frame). */
  spreadPx: number;
  frames: number;
  /** Standard deviation of the frames' registration at the row, pixels; 0 for a still camera. */
  registrationSdPx?: number | undefined;
}

/**
 * Standard deviation of a stance's mean paw mark, pixels: the noise of its frames averaged over them, and what does
 * not average out (the camera's motion).
 */
export function stancePixelSd(stance: Stance): number {
  // Neighbouring frames share blur, light and compression. A correlation of one half from frame to frame (common
  // practice, no source) leaves a third of them independent: n(1 − r)/(1 + r).
  const independent = Math.max(1, stance.frames / 3);
  return Math.hypot(stance.spreadPx / Math.sqrt(independent), stance.registrationSdPx ?? 0);
}

export interface Placed {
  errorM: number;
  seM: number;
  heightM: number;
  yawDeg: number;
  /** Standard deviation that no unbiased estimator can beat, where it was reckoned. */
  leastSdM?: number | undefined;
}

export interface Row {
  camera: Camera;
  marks: PoleMarks;
  laidXM: number[];
  lengthM: number;
}

/**
 * A row of four to seven poles filmed by some phone, and the taps on it.
 * @param drawn taps as the app draws them onto the poles; else as a careful hand leaves them, `TAP_SD_PX`.
 */
export function someRow(
  yawDeg: number,
  heightM: number,
  nearOnly: boolean,
  random: () => number,
  laid: { poles: number; gapM: number } = {
    poles: 4 + Math.floor(4 * random()),
    gapM: 0.35 + 0.25 * random(),
  },
  drawn = false,
): Row {
  const normal = normalFrom(random);
  const { poles, gapM } = laid;
  const lengthM = gapM * (poles - 1);
  const focalPx = (0.72 + 0.3 * random()) * FULL.widthPx;
  const camera = {
    ...phone({
      ...FULL,
      yawDeg,
      heightM,
      focalPx,
      // Far enough back for the row and a step before and after it.
      distanceM: Math.max(2.5, ((lengthM + 0.8) * focalPx) / FULL.widthPx + 0.6),
      rowMiddleM: lengthM / 2,
      depthM: 0.45,
      rollDeg: 1.5 * normal(),
    }),
    centreX: FULL.widthPx / 2 + 15 * normal(),
    centreY: FULL.heightPx / 2 + 15 * normal(),
  };
  const laidXM = Array.from({ length: poles }, (_, k) => k * gapM + LAID_SD_M * normal());
  const tap = (xM: number, yM: number) => {
    const p = project(camera, xM, yM, 0)!;
    return { x: p.x + TAP_SD_PX * normal(), y: p.y + TAP_SD_PX * normal() };
  };
  const poleOf = (xM: number) => {
    if (nearOnly) return { near: tap(xM, 0) };
    return drawn ? drawnPole(camera, xM, random) : { near: tap(xM, 0), far: tap(xM, 0.9) };
  };
  const marks: PoleMarks = {
    timeS: 0,
    poles: laidXM.map(poleOf),
    gapsM: Array.from({ length: poles - 1 }, () => gapM),
    poleLengthM: 0.9,
  };
  return { camera, marks, laidXM, lengthM };
}

/**
 * What taps are like once the app has drawn them onto a pole, pixels of a picture 1920 wide: as measured on frames of
 * rendered clips (the bench's "as the app draws them"). Across the pole its line is found finely, but for one in ten;
 * along it ends come out a little too far in.
 */
const DRAWN = { acrossSd: 0.5, oddShare: 0.1, oddSd: 2, outward: -1.5, alongSd: 2 };

function drawnPole(camera: Camera, xM: number, random: () => number) {
  const normal = normalFrom(random);
  const [near, far] = [project(camera, xM, 0, 0)!, project(camera, xM, 0.9, 0)!];
  const length = Math.hypot(far.x - near.x, far.y - near.y);
  const [dx, dy] = [(far.x - near.x) / length, (far.y - near.y) / length];
  const acrossSd = random() < DRAWN.oddShare ? DRAWN.oddSd : DRAWN.acrossSd;
  const end = (p: { x: number; y: number }, outward: 1 | -1) => {
    const along = outward * DRAWN.outward + DRAWN.alongSd * normal();
    const across = acrossSd * normal();
    return { x: p.x + along * dx - across * dy, y: p.y + along * dy + across * dx };
  };
  return { near: end(near, -1), far: end(far, 1) };
}

export interface View {
  nearOnly?: boolean;
  /** Two poles' near ends and the dog's withers are all that is marked. */
  upright?: boolean;
  pawHeightSdM?: number;
  /** Height of the mark above the ground, where it is the same in many landings; else drawn anew for each. */
  markHeightM?: number;
  /** How surely the dog's way across the row is known; left out: between the pole ends. */
  laneSdM?: number;
}

/** One stance: its paw marks in the frames, carried to the reference and the ground, and their mean. */
export function landing(
  map: GroundMap,
  truth: { xM: number; yM: number },
  cameras: readonly Camera[],
  toReference: readonly Matrix3[],
  registrationSdPx: number,
  view: View,
  random: () => number,
): { errorM: number; seM: number } {
  const normal = normalFrom(random);
  const pawHeightSdM = view.pawHeightSdM ?? KNOWN_PAW_SD_M;
  const markHeightM = view.markHeightM ?? PAW_HEIGHT_M + pawHeightSdM * normal();
  const spreadPx = PLAIN_MARK.spreadPx;
  // Marks of neighbouring frames share half of their error.
  let [dx, dy] = [normal(), normal()];
  const pixels = cameras.map((camera, k) => {
    dx = 0.5 * dx + Math.sqrt(0.75) * normal();
    dy = 0.5 * dy + Math.sqrt(0.75) * normal();
    const p = project(camera, truth.xM, truth.yM, markHeightM)!;
    return applyHomography(toReference[k]!, { x: p.x + spreadPx * dx, y: p.y + spreadPx * dy });
  });
  const mean = (of: (p: { x: number; y: number }) => number) =>
    pixels.reduce((sum, p) => sum + of(p), 0) / pixels.length;
  const pixel = { x: mean((p) => p.x), y: mean((p) => p.y) };
  const spread = Math.sqrt(mean((p) => (p.x - pixel.x) ** 2 + (p.y - pixel.y) ** 2) / 2);
  const found = placeOnGround(map, pixel, {
    heightM: PAW_HEIGHT_M,
    heightSdM: pawHeightSdM,
    pixelSdPx: stancePixelSd({
      spreadPx: Math.max(spread, spreadPx / 2),
      frames: pixels.length,
      registrationSdPx,
    }),
    lane: view.laneSdM ? { yM: truth.yM + view.laneSdM * normal(), sdM: view.laneSdM } : undefined,
  });
  return { errorM: found.xM - truth.xM, seM: found.xSeM };
}
