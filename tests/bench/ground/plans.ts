import type { ClipPlan } from "../../../fixtures/studio/scenario.ts";

/** How a clip of the ground bench is filmed. */
export interface FilmedAs {
  from: string;
  /** x of the row's middle, metres. */
  middleM: number;
  kind: "tripod" | "hand" | "pan";
  yawDeg: number;
  heightM: number;
  zoom?: number;
  seed: number;
}

const AWAY_M = { tripod: 3.7, hand: 3.5, pan: 3.4 };
const FIELD_DEG = { tripod: 66, hand: 66, pan: 53 };

/** Stands so that the row's middle lies in the middle of the picture, looking a little above the ground there. */
function filmed(name: string, { from, middleM, kind, yawDeg, heightM, zoom, seed }: FilmedAs): ClipPlan {
  const yaw = (yawDeg * Math.PI) / 180;
  const away = AWAY_M[kind] + (kind === "tripod" && yawDeg >= 20 ? 0.3 : 0);
  return {
    name,
    from,
    seed,
    camera: {
      kind,
      xM: middleM - away * Math.sin(yaw),
      yM: 0.5 - away * Math.cos(yaw),
      heightM,
      yawDeg,
      pitchDeg: (Math.atan2(heightM - 0.3, away) * 180) / Math.PI,
      rollDeg: 0.5,
      fieldDeg: FIELD_DEG[kind],
      shakeDeg: kind === "tripod" ? 0 : 0.25,
      ...(kind === "pan" && { follow: 0.7, largestTurnDeg: 16, zoom: zoom ?? 0 }),
    },
    ...(kind === "pan" && { marksS: 1.9 }),
    // Nothing stands still in these, so every frame is drawn whole: smaller and fewer, or they would take an hour.
    ...(kind !== "tripod" && {
      picture: { widthPx: 960, heightPx: 540, fps: 40, exposures: 1, bitsPerSecond: 1_500_000 },
    }),
  };
}

const garden = { from: "demo-fits", middleM: 1.25 };
const wood = { from: "too-far", middleM: 1.275 };
const sand = { from: "off-centre", middleM: 1.225 };
const turf = { from: "too-close", middleM: 1.15 };

/** The clips over which the whole path is measured, by condition: different places, poles and lights among them. */
export const GROUND_PLANS: ClipPlan[] = [
  filmed("tripod-00", { ...garden, kind: "tripod", yawDeg: 0, heightM: 0.8, seed: 301 }),
  filmed("tripod-10", { ...wood, kind: "tripod", yawDeg: 10, heightM: 0.8, seed: 302 }),
  filmed("tripod-20", { ...sand, kind: "tripod", yawDeg: 20, heightM: 0.8, seed: 303 }),
  filmed("tripod-30", { ...garden, kind: "tripod", yawDeg: 30, heightM: 0.8, seed: 304 }),
  filmed("tripod-low-00", { ...turf, kind: "tripod", yawDeg: 0, heightM: 0.3, seed: 305 }),
  filmed("tripod-low-20", { ...garden, kind: "tripod", yawDeg: 20, heightM: 0.3, seed: 306 }),
  filmed("tripod-high-10", { ...wood, kind: "tripod", yawDeg: 10, heightM: 1.5, seed: 307 }),
  filmed("hand-00", { ...garden, kind: "hand", yawDeg: 0, heightM: 1, seed: 308 }),
  filmed("hand-20", { ...turf, kind: "hand", yawDeg: 20, heightM: 1, seed: 309 }),
  filmed("pan-00", { ...sand, kind: "pan", yawDeg: 0, heightM: 1, seed: 310 }),
  filmed("pan-20", { ...garden, kind: "pan", yawDeg: 20, heightM: 1, seed: 311 }),
  filmed("pan-zoom-00", { ...wood, kind: "pan", yawDeg: 0, heightM: 1, zoom: 0.25, seed: 312 }),
  filmed("pan-zoom-20", { ...garden, kind: "pan", yawDeg: 20, heightM: 1, zoom: 0.25, seed: 313 }),
  {
    name: "knock-tripod",
    from: "two-passes",
    seed: 314,
    marksS: 0.1,
    knocks: [{ pole: 2, atS: 1.95, shiftM: 0.08 }],
  },
  {
    ...filmed("knock-pan", { ...garden, kind: "pan", yawDeg: 0, heightM: 1, seed: 315 }),
    knocks: [{ pole: 2, atS: 2.35, shiftM: 0.09 }],
    marksS: 1.2,
  },
];
