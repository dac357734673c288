import { groundToImage, lengthStandardError, placeOnGround } from "./map.ts";
import type { Frame } from "./marks.ts";
import type { GroundMap } from "./types.ts";

/** How well a clip can be measured, to be shown before a number is trusted. */
export interface GroundQuality {
  /** Angle between the line of sight to the row's middle and a right angle to the row; null without a camera. */
  offSquareDeg: number | null;
  /** Height of the camera above the ground and its distance from the row's middle line, metres. */
  cameraHeightM: number | null;
  cameraDistanceM: number | null;
  /** Smallest and largest length along the row that one pixel covers, from the first pole to the last; cm. */
  cmPerPixel: [number, number];
  /** Standard error of one landing where the row shows it worst, metres; 95 of 100 lie within 1.96 times it. */
  landingSeM: number;
  /** Standard error of lengths along the row, as a share, which all landings have in common. */
  scaleSe: number;
  /** In one word: good: a few passes settle the spacing; fair: more of them do; rough: the clip shows no more than the gait. */
  trust: "good" | "fair" | "rough";
  /** What would make the next clip better, the weightiest first; empty when nothing would. */
  advice: string[];
}

/**
 * What is taken of a landing before any is measured, standard deviations in metres: along the row, of the pad's place in
 * a stance; of the height above the ground at which the pads of a whole clip are seen (far more than clips with known
 * truth show, for nobody has measured it on real dogs); across the row, of the track it lies on.
 */
export const ASSUMED_PAW = { alongSdM: 0.0034, heightSdM: 0.008, laneSdM: 0.02 } as const;
/** Standard deviation of a moving camera's registration at the row, as a share of the long side (see the bench). */
export const MOVING_CAMERA_SHARE = 0.7 / 1920;

/**
 * Standard error, as a share, with which lengths along the dog's way are known: what all landings of a clip have in
 * common, so that more of them do not average it out; 1 at most. From the taps, and from how surely the height of a paw's mark
 * above the poles' tapped points is known: seen from a camera at height H, marks e too high stretch lengths by e/H.
 */
export function scaleStandardError(map: GroundMap): number {
  const lastM = map.poleXM.at(-1) ?? 0;
  const yM = map.poleLengthM / 2;
  const [from, to] = [0, lastM].map((xM) => groundToImage(map, { xM, yM }));
  return Math.min(1, lengthStandardError(map, from!, to!, ASSUMED_PAW.heightSdM) / lastM);
}

/**
 * By what share lengths on the ground come out too short when the poles lie that high and nobody says so: the picture
 * shows it by nothing, for a raised row looks like one on the ground seen from lower (similar triangles under the camera).
 * Null where the camera is not known.
 */
export function heightLeftOutShare(map: GroundMap, poleHeightM: number): number | null {
  return map.camera && map.camera.heightM > 0 ? poleHeightM / (map.camera.heightM + poleHeightM) : null;
}

const MOST_OFF_SQUARE_DEG = 20;
const COARSEST_CM = 0.5;
/** From here on a step that fits cannot be told from one that does not, whatever the number of passes: see the bench. */
const ROUGH_SCALE = 0.022;
const FAIR_SCALE = 0.014;
/** An interval of a landing wider than this share of a gap, each way, shows little of where in it a foot fell. */
const ROUGH_SHARE = 0.12;
const FAIR_SHARE = 0.06;
const HEIGHT_WANTED_M = 0.95;
const HIGHEST_M = 1.8;
const SLOWEST_FPS = 48;
const SMALLEST_ROW_SHARE = 0.4;

export function qualityOf(
  map: GroundMap,
  frame: Frame,
  clip: { fps: number; cameraMoves: boolean },
): GroundQuality {
  const longSide = Math.max(frame.widthPx, frame.heightPx);
  const lastM = map.poleXM.at(-1) ?? 0;
  const middle = { xM: lastM / 2, yM: map.poleLengthM / 2 };
  const camera = map.camera;
  const off = camera && Math.abs(Math.atan2(middle.xM - camera.xM, middle.yM - camera.yM)) * (180 / Math.PI);
  const perPixel = Array.from({ length: 21 }, (_, k) => {
    const xM = (lastM * k) / 20;
    const [a, b] = [-0.01, 0.01].map((by) => groundToImage(map, { xM: xM + by, yM: middle.yM }));
    return 2 / Math.hypot(b!.x - a!.x, b!.y - a!.y);
  }).filter(Number.isFinite);
  const cmPerPixel: [number, number] = [Math.min(...perPixel), Math.max(...perPixel)];
  const pixelSdPx = clip.cameraMoves ? MOVING_CAMERA_SHARE * longSide : 0;
  // The worst place of the row counts, not the middle, where an error of depth or height does no harm.
  const landingSeM = Math.max(
    ...[0.1, 0.5, 0.9].map((share) => {
      const pixel = groundToImage(map, { xM: share * lastM, yM: middle.yM });
      const { heightSdM, alongSdM, laneSdM: sdM } = ASSUMED_PAW;
      const lane = { yM: middle.yM, sdM };
      return Math.hypot(placeOnGround(map, pixel, { pixelSdPx, heightSdM, lane }).xSeM, alongSdM);
    }),
  );
  const scaleSe = scaleStandardError(map);
  const gapM = lastM / Math.max(1, map.poleXM.length - 1);
  const ends = [0, lastM].map((xM) => groundToImage(map, { xM, yM: middle.yM }));
  const [first, last] = ends as [{ x: number; y: number }, { x: number; y: number }];
  const cut = ends.some((p) => p.x < 0 || p.x > frame.widthPx || p.y < 0 || p.y > frame.heightPx);
  const rowShare = Math.abs(last.x - first.x) / frame.widthPx;

  const advice: string[] = [];
  if (map.kind === "row") advice.push("Tap the far ends of the poles too: depth is only assumed now.");
  if (off !== null && off > MOST_OFF_SQUARE_DEG)
    advice.push(`The camera stood ${Math.round(off)}° off square: stand opposite the middle of the row.`);
  if (cut && !clip.cameraMoves)
    advice.push("The row does not fit into the picture: move back until the first and the last pole show.");
  else if (rowShare < SMALLEST_ROW_SHARE && cmPerPixel[1] > COARSEST_CM / 2)
    advice.push(`The row fills only ${Math.round(100 * rowShare)} % of the picture: move nearer.`);
  else if (cmPerPixel[1] > COARSEST_CM)
    advice.push(
      `One pixel covers up to ${cmPerPixel[1].toFixed(1)} cm: film in a higher resolution, or a shorter row.`,
    );
  const trust = trustIn(scaleSe, (1.96 * landingSeM) / gapM);
  if (camera && trust !== "good" && camera.heightM < HEIGHT_WANTED_M)
    advice.push(
      `The camera was ${Math.round(100 * camera.heightM)} cm up, so lengths are known to ± ${(196 * scaleSe).toFixed(0)} % only: hold it at hip height, about a metre.`,
    );
  if (camera && camera.heightM > HIGHEST_M)
    advice.push("The camera was high: hold it lower, at knee to hip height, to see the feet from the side.");
  if (clip.cameraMoves)
    advice.push("The camera moved: a tripod, or a phone leaned on something, measures better.");
  if (clip.fps < SLOWEST_FPS)
    advice.push(
      `The clip has ${Math.round(clip.fps)} frames a second: choose 60 or more in the camera's settings.`,
    );
  if (trust !== "good" && advice.length === 0)
    advice.push(
      `The row fills ${Math.round(100 * rowShare)} % of the picture: stand nearer or zoom in, and tap every end closely.`,
    );
  return {
    offSquareDeg: off,
    cameraHeightM: camera?.heightM ?? null,
    cameraDistanceM: camera ? middle.yM - camera.yM : null,
    cmPerPixel,
    landingSeM,
    scaleSe,
    trust,
    advice,
  };
}

function trustIn(scaleSe: number, shareOfGap: number): GroundQuality["trust"] {
  if (!(scaleSe < ROUGH_SCALE && shareOfGap < ROUGH_SHARE)) return "rough";
  return scaleSe < FAIR_SCALE && shareOfGap < FAIR_SHARE ? "good" : "fair";
}
