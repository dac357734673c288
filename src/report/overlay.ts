import { signedLengthText, type Units } from "../charts/lengths.ts";
import { isDoubtful, isHind, PAW_LOOKS } from "../charts/marks.ts";
import { DAYLIGHT } from "../charts/palette.ts";
import { applyHomography, invert3 } from "../ground/homography.ts";
import { groundToImage } from "../ground/map.ts";
import { ASSUMED_POLE_LENGTH_M } from "../ground/marks.ts";
import type { FrameRegistration, GroundMap, GroundPoint, ImagePoint, PoleMarks } from "../ground/types.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import { polePlaces } from "../spacing/travel.ts";
import type { PassJudgement, PlacedLanding } from "../spacing/types.ts";
import type { Matrix3 } from "../stats/types.ts";

export interface OverlayScene {
  map: GroundMap;
  /** Empty for a still camera. */
  registrations: readonly FrameRegistration[];
  /** Those of the pass at hand; each is drawn from its touch-down on. */
  landings: readonly PlacedLanding[];
  marks: PoleMarks;
  timeS: number;
  /** Of the upright picture in the clip, pixels. */
  clip: { widthPx: number; heightPx: number };
  units: Units;
}

/** What drawing over the pictures of a clip needs besides the film. */
export type Seen = Pick<ClipAnalysis, "clip" | "ground" | "marks" | "registrations">;

/** A pass is on the picture a little before its first landing and a little after its last one. */
const LEAD_S = 0.5;

/** Draws over any frame of a clip what is known of it at that time; nothing where the ground has no map. */
export function overlayOf(
  { clip, ground, marks, registrations }: Seen,
  passes: readonly PassJudgement[],
  units: Units,
): (context: Context, timeS: number) => void {
  const { map } = ground;
  if (!map) return () => {};
  return (context, timeS) => {
    const pass = passes.findLast(
      ({ landings }) =>
        landings.some((landing) => landing.onS <= timeS + LEAD_S) &&
        landings.some((landing) => landing.offS >= timeS - LEAD_S),
    );
    const landings = pass?.landings ?? [];
    drawOverlay(context, { map, registrations, landings, marks, timeS, clip, units });
  };
}

type Context = CanvasRenderingContext2D | OffscreenCanvasRenderingContext2D;

/** Where a place on the ground is drawn on the canvas; null when it is nowhere near the picture. */
type Placer = (ground: GroundPoint, heightM?: number) => ImagePoint | null;

/**
 * Draws poles, gap numbers and the landings so far over a frame that is already on the canvas. One unit of the context
 * is one pixel of the upright picture: scale the context where the canvas is smaller.
 */
export function drawOverlay(context: Context, scene: OverlayScene): void {
  const place = placer(scene);
  // Lines and letters keep their weight whatever the size of the picture.
  const unit = Math.max(0.6, Math.min(scene.clip.widthPx, scene.clip.heightPx) / 720);
  context.save();
  context.lineJoin = "round";
  context.lineCap = "round";
  drawPoles(context, scene, place, unit);
  drawGapNumbers(context, scene, place, unit);
  const sofar = scene.landings.filter((landing) => landing.onS <= scene.timeS);
  for (const landing of sofar)
    if (!standing(landing, scene.timeS)) drawLanding(context, landing, place, unit, false);
  for (const landing of sofar)
    if (standing(landing, scene.timeS)) drawLanding(context, landing, place, unit, true);
  drawOffsets(context, scene, sofar, place, unit);
  context.restore();
}

function standing(landing: PlacedLanding, timeS: number): boolean {
  return landing.onS <= timeS && timeS <= landing.offS;
}

function placer({ map, registrations, timeS, clip }: OverlayScene): Placer {
  const toFrame = referenceToFrame(registrations, timeS);
  return (ground, heightM = 0) => {
    const reference = groundToImage(map, ground, heightM);
    const at = toFrame ? applyHomography(toFrame, reference) : reference;
    const near =
      Math.abs(at.x - clip.widthPx / 2) < 2 * clip.widthPx &&
      Math.abs(at.y - clip.heightPx / 2) < 2 * clip.heightPx;
    return near ? at : null;
  };
}

/** The map from the reference picture to the frame at a time, between the two nearest frames looked at. */
export function referenceToFrame(registrations: readonly FrameRegistration[], timeS: number): Matrix3 | null {
  const good = registrations.filter((registration) => registration.ok);
  const after = good.findIndex((registration) => registration.timeS >= timeS);
  const next = good[after === -1 ? good.length - 1 : after];
  if (!next) return null;
  const last = good[Math.max(0, after - 1)] ?? next;
  const gapS = next.timeS - last.timeS;
  const share = gapS > 0 && after > 0 ? (timeS - last.timeS) / gapS : 1;
  const [from, to] = [last.frameToReference, next.frameToReference];
  const between = to.map((entry, i) => (1 - share) * from[i]! + share * entry) as Matrix3;
  return invert3(between);
}

function drawPoles(context: Context, { map, marks }: OverlayScene, place: Placer, unit: number): void {
  const lengthM = marks.poleLengthM ?? map.poleLengthM ?? ASSUMED_POLE_LENGTH_M;
  for (const xM of polePlaces(marks.gapsM)) {
    const ends = [0, lengthM].map((yM) => place({ xM, yM }, marks.poleHeightM ?? 0));
    const [near, far] = ends;
    if (!near || !far) continue;
    for (const [colour, width, dash] of [
      [DAYLIGHT.ink, 5, []],
      [DAYLIGHT.sheet, 3, []],
      [DAYLIGHT.stripe, 3, [10, 14]],
    ] as const) {
      context.strokeStyle = colour;
      context.lineWidth = width * unit;
      context.lineCap = dash.length > 0 ? "butt" : "round";
      context.setLineDash(dash.map((part) => part * unit));
      context.beginPath();
      context.moveTo(near.x, near.y);
      context.lineTo(far.x, far.y);
      context.stroke();
    }
    context.setLineDash([]);
    context.lineCap = "round";
  }
}

function drawGapNumbers(context: Context, { marks }: OverlayScene, place: Placer, unit: number): void {
  const poles = polePlaces(marks.gapsM);
  marks.gapsM.forEach((gapM, i) => {
    const middle = (poles[i] ?? 0) + gapM / 2;
    const tick = [0.02, -0.03].map((yM) => place({ xM: middle, yM }));
    const at = place({ xM: middle, yM: -0.1 });
    if (!at) return;
    const [from, to] = tick;
    if (from && to) {
      haloLine(context, from, to, unit);
    }
    context.beginPath();
    context.arc(at.x, at.y, 12 * unit, 0, 2 * Math.PI);
    context.fillStyle = DAYLIGHT.ink;
    context.globalAlpha = 0.78;
    context.fill();
    context.globalAlpha = 1;
    label(context, String(i + 1), at.x, at.y, { unit, size: 14, colour: DAYLIGHT.sheet });
  });
}

function haloLine(context: Context, from: ImagePoint, to: ImagePoint, unit: number): void {
  for (const [colour, width] of [
    [DAYLIGHT.ink, 4],
    [DAYLIGHT.sheet, 2],
  ] as const) {
    context.strokeStyle = colour;
    context.lineWidth = width * unit;
    context.beginPath();
    context.moveTo(from.x, from.y);
    context.lineTo(to.x, to.y);
    context.stroke();
  }
}

/** The paw on the ground now is drawn larger and with a ring. */
function drawLanding(
  context: Context,
  landing: PlacedLanding,
  place: Placer,
  unit: number,
  now: boolean,
): void {
  const at = place(landing);
  if (!at) return;
  const look = PAW_LOOKS[landing.paw];
  const colour = DAYLIGHT[look.side];
  const radius = (now ? 9 : 6) * unit;
  const doubtful = isDoubtful(landing);
  context.globalAlpha = now ? 1 : 0.75;
  if (now) {
    shape(context, look.shape, at, radius + 5 * unit);
    context.lineWidth = 2.5 * unit;
    context.strokeStyle = DAYLIGHT.sheet;
    context.stroke();
  }
  shape(context, look.shape, at, radius + 1.5 * unit);
  context.fillStyle = DAYLIGHT.sheet;
  context.fill();
  shape(context, look.shape, at, radius);
  if (look.filled && !doubtful) {
    context.fillStyle = colour;
    context.fill();
  } else {
    context.setLineDash(doubtful ? [4 * unit, 3 * unit] : []);
    context.lineWidth = 2.5 * unit;
    context.strokeStyle = colour;
    context.stroke();
    context.setLineDash([]);
    if (look.filled) {
      context.globalAlpha *= 0.3;
      context.fillStyle = colour;
      context.fill();
    }
  }
  context.globalAlpha = 1;
  if (landing.source === "hand") {
    context.beginPath();
    context.arc(at.x, at.y, radius * 0.36, 0, 2 * Math.PI);
    context.fillStyle = look.filled && !doubtful ? DAYLIGHT.sheet : colour;
    context.fill();
  }
}

function shape(context: Context, kind: "round" | "square", { x, y }: ImagePoint, radius: number): void {
  context.beginPath();
  if (kind === "round") context.arc(x, y, radius, 0, 2 * Math.PI);
  // Of equal area, as in the charts.
  else context.rect(x - radius * 0.886, y - radius * 0.886, radius * 1.772, radius * 1.772);
}

/** Under each hind foot that stands in the row now, clear of the dog: how far from the middle of its gap. */
function drawOffsets(
  context: Context,
  { timeS, units }: OverlayScene,
  landings: readonly PlacedLanding[],
  place: Placer,
  unit: number,
): void {
  let lower = 0;
  for (const landing of landings) {
    if (!standing(landing, timeS) || !isHind(landing) || landing.offsetM === null) continue;
    const at = place(landing);
    if (!at) continue;
    const y = at.y + (74 + lower) * unit;
    haloLine(context, { x: at.x, y: at.y + 15 * unit }, { x: at.x, y: y - 15 * unit }, unit);
    const text = signedLengthText(landing.offsetM, units);
    label(context, text, at.x, y, { unit, size: 24, colour: DAYLIGHT.sheet, halo: true });
    // Two hind feet down at once, as in a walk: the labels must not lie on each other.
    lower += 28;
  }
}

interface LabelLook {
  unit: number;
  size: number;
  colour: string;
  halo?: boolean;
}

function label(context: Context, text: string, x: number, y: number, look: LabelLook): void {
  context.font = `700 ${look.size * look.unit}px system-ui, sans-serif`;
  context.textAlign = "center";
  context.textBaseline = "middle";
  if (look.halo) {
    context.lineWidth = 5 * look.unit;
    context.strokeStyle = DAYLIGHT.ink;
    context.strokeText(text, x, y);
  }
  context.fillStyle = look.colour;
  context.fillText(text, x, y);
}
