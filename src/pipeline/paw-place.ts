import { applyHomography } from "../ground/homography.ts";
import { groundStandardError, imageToGround } from "../ground/map.ts";
import type { GroundMap, GroundPoint, ImagePoint } from "../ground/types.ts";
import type { Box } from "../paws/types.ts";
import type { Matrix3 } from "../stats/types.ts";
import type { MarkedPaw, PadMark } from "./pads.ts";

/**
 * Where the network marks a paw, seen from the middle of its pad on the ground, as shares of the dog's height in the
 * picture (box from feet to ears or tail): above it, nearer to the camera (on the side of the paw that is seen), and
 * ahead. Measured on 700 stances of four dogs with known truth; paws are as large as their dog.
 */
const MARK_UP = 0.038;
const MARK_NEARER = 0.0285;
const MARK_AHEAD = 0.0107;
/** How much that differs from stance to stance and from clip to clip, along the row and in height, metres: likewise. */
const MARK_AHEAD_SD_M = 0.0045;
const MARK_UP_SD_M = 0.004;
/**
 * The same of the place that the pad network gives, which is meant to be the near edge of the pad where it meets the
 * ground; measured on 525 stances of 25 clips, among them cameras from 0.3 to 1.5 m up. Ahead it is exact to 0.06 cm.
 */
const PAD_UP = 0.0063;
const PAD_NEARER = 0.0096;
const PAD_AHEAD_SD_M = 0.0032;
const PAD_UP_SD_M = 0.0028;
/** A pad is not believed when its network sees no paw at all, ... */
const SURE_PAW = 0.5;
/** ... when less than this of what it says of one is near the place that it gives, ... */
const SURE_PAD = 0.5;
/** ... or when that lies farther than this from the paw's mark, over the height of the dog's box: another foot's. */
const PAD_REACH = 0.09;
/** How much the place of a foot that motion alone saw differs from stance to stance, along the row, metres. */
const MOTION_AHEAD_SD_M = 0.015;
/** Beside a pole half of a paw is hidden: so much more is its mark off, metres, and this near to where the pole is drawn; on it more. */
const BESIDE_POLE_SD_M = 0.01;
const BESIDE_POLE_M = 0.1;
const ON_POLE_SD_M = 0.03;
const POLE_HALF_WIDTH_M = 0.04;
const STAND_HALF_WIDTH_M = 0.09;
const STAND_REACH_M = 0.14;

/** A place on the ground on which a paw was seen; see `PawCandidate`. */
export interface PawPlace extends GroundPoint {
  xSeM: number;
  ySeM: number;
  xPerY: number;
  aheadM: number;
}

/**
 * The place on the ground of a paw marked in a frame: under its pad where that is known, else under its mark.
 *
 * @param box The dog's box in the frame.
 * @param dogM Height of the dog in the picture, metres.
 */
export function placePaw(
  map: GroundMap,
  toReference: Matrix3,
  paw: MarkedPaw,
  box: Box,
  dogM: number,
): PawPlace {
  const pad = believed(paw, box);
  if (!pad) {
    const pixel = applyHomography(toReference, paw);
    const g = farther(map, imageToGround(map, pixel, MARK_UP * dogM), MARK_NEARER * dogM);
    return known(
      map,
      pixel,
      g,
      MARK_AHEAD * dogM,
      MARK_UP_SD_M,
      Math.hypot(MARK_AHEAD_SD_M, hiddenSd(map, g)),
    );
  }
  const pixel = applyHomography(toReference, pad);
  const g = farther(map, imageToGround(map, pixel, PAD_UP * dogM), PAD_NEARER * dogM);
  const aside = alongRow(map, toReference, pad) * pad.sdXPx;
  return known(map, pixel, g, 0, PAD_UP_SD_M, Math.hypot(PAD_AHEAD_SD_M, aside));
}

/**
 * The place of a foot that motion alone saw.
 *
 * @param pixel In the reference picture.
 */
export function placeStillFoot(map: GroundMap, pixel: ImagePoint, dogM: number): PawPlace {
  const g = imageToGround(map, pixel);
  const aheadSdM = Math.hypot(MOTION_AHEAD_SD_M, hiddenSd(map, g));
  return known(map, pixel, g, MARK_AHEAD * dogM, MARK_UP_SD_M, aheadSdM);
}

/** Whether a place lies where the camera draws a pole or the stand at its end. */
export function onPole(map: GroundMap, g: GroundPoint): boolean {
  const { along, toEnd } = toNearestPole(map, g);
  return along < POLE_HALF_WIDTH_M || (along < STAND_HALF_WIDTH_M && toEnd < STAND_REACH_M);
}

function believed(paw: MarkedPaw, box: Box): PadMark | null {
  const { pad } = paw;
  if (!pad || pad.paw < SURE_PAW || pad.sure < SURE_PAD) return null;
  return Math.hypot(pad.x - paw.x, pad.y - paw.y) <= PAD_REACH * box.height ? pad : null;
}

/** How much more a mark is off where a pole hides a part of the paw. The pad network says so itself. */
function hiddenSd(map: GroundMap, g: GroundPoint): number {
  const { along } = toNearestPole(map, g);
  return along < POLE_HALF_WIDTH_M ? ON_POLE_SD_M : along < BESIDE_POLE_M ? BESIDE_POLE_SD_M : 0;
}

function known(
  map: GroundMap,
  pixel: ImagePoint,
  g: GroundPoint,
  aheadM: number,
  upSdM: number,
  aheadSdM: number,
): PawPlace {
  const xSeM = Math.hypot(groundStandardError(map, pixel).xM, aheadSdM);
  return {
    ...g,
    xSeM,
    ySeM: groundStandardError(map, pixel, 0, upSdM).yM,
    xPerY: alongSight(map, g),
    aheadM,
  };
}

/** A place so much farther from the camera. */
function farther(map: GroundMap, g: GroundPoint, byM: number): GroundPoint {
  if (!map.camera) return g;
  const share = byM / Math.hypot(g.xM - map.camera.xM, g.yM - map.camera.yM);
  return {
    xM: g.xM + share * (g.xM - map.camera.xM),
    yM: g.yM + share * (g.yM - map.camera.yM),
  };
}

/** Metres along the row for a pixel to the side in a frame, at one depth as its foot's track settles it. */
function alongRow(map: GroundMap, toReference: Matrix3, at: ImagePoint): number {
  const [from, to] = [at, { x: at.x + 1, y: at.y }].map((p) =>
    imageToGround(map, applyHomography(toReference, p)),
  ) as [GroundPoint, GroundPoint];
  return Math.abs(to.xM - from.xM - alongSight(map, from) * (to.yM - from.yM));
}

/** Distance along the row from a place to the nearest pole, as the camera draws it over the ground, and to that one's end. */
function toNearestPole(map: GroundMap, g: GroundPoint): { along: number; toEnd: number } {
  const over = (place: GroundPoint) => drawnOver(map, place, map.poleHeightM ?? 0);
  return map.poleXM
    .map((xM) => {
      const [near, far] = [over({ xM, yM: 0 }), over({ xM, yM: map.poleLengthM })];
      const share = (g.yM - near.yM) / (far.yM - near.yM);
      return {
        along: Math.abs(g.xM - (near.xM + share * (far.xM - near.xM))),
        toEnd: Math.min(Math.abs(g.yM - near.yM), Math.abs(g.yM - far.yM)),
      };
    })
    .reduce((a, b) => (b.along < a.along ? b : a), { along: Infinity, toEnd: Infinity });
}

/** The ground that a point hides which lies `heightM` over a place. */
function drawnOver(map: GroundMap, { xM, yM }: GroundPoint, heightM: number): GroundPoint {
  const { camera } = map;
  if (!camera || heightM >= camera.heightM) return { xM, yM };
  const by = heightM / (camera.heightM - heightM);
  return { xM: xM + by * (xM - camera.xM), yM: yM + by * (yM - camera.yM) };
}

/** Metres along the row per metre across it, on the ground under the line of sight to a place. */
function alongSight(map: GroundMap, g: GroundPoint): number {
  const { camera } = map;
  if (!camera) return 0;
  const slope = (g.xM - camera.xM) / (g.yM - camera.yM);
  return Number.isFinite(slope) ? Math.max(-3, Math.min(3, slope)) : 0;
}
