import type { Landing, Paw } from "../gait/types.ts";
import { thresholds } from "../spacing/thresholds.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";

/**
 * How the four paws look everywhere: left = round and blue, right = square and orange, hind = filled,
 * fore = hollow. Each difference is told by shape as well as by colour.
 */
export interface PawLook {
  name: string;
  side: "left" | "right";
  shape: "round" | "square";
  filled: boolean;
  colour: string;
}

export const PAW_LOOKS: Record<Paw, PawLook> = {
  LH: { name: "left hind", side: "left", shape: "round", filled: true, colour: COLOUR.left },
  RH: { name: "right hind", side: "right", shape: "square", filled: true, colour: COLOUR.right },
  LF: { name: "left fore", side: "left", shape: "round", filled: false, colour: COLOUR.left },
  RF: { name: "right fore", side: "right", shape: "square", filled: false, colour: COLOUR.right },
};

export function isHind(landing: { paw: Paw }): boolean {
  return landing.paw === "LH" || landing.paw === "RH";
}

/** Doubtful landings are drawn dashed. */
export function isDoubtful(landing: Pick<Landing, "probability">): boolean {
  return landing.probability < thresholds.doubtfulProbability;
}

export interface PawMark {
  paw: Paw;
  x: number;
  y: number;
  /** Half the width of the mark, pixels. */
  radius: number;
  doubtful?: boolean;
  /** Placed by hand: a dot in the middle. */
  byHand?: boolean;
  /** Shown by a resting pointer. */
  title?: string;
  opacity?: number;
}

/** One paw as a mark on a drawing. */
export function pawMark({ paw, x, y, radius, doubtful, byHand, title, opacity }: PawMark): Markup {
  const look = PAW_LOOKS[paw];
  const paint = {
    fill: look.filled ? look.colour : COLOUR.sheet,
    "fill-opacity": look.filled && doubtful ? 0.3 : null,
    stroke: look.filled && !doubtful ? COLOUR.sheet : look.colour,
    "stroke-width": look.filled && !doubtful ? 1 : 1.75,
    "stroke-dasharray": doubtful ? "2.5 2" : null,
  };
  // A square of side 1.77 r has the area of a circle of radius r: neither side looks heavier.
  const half = radius * 0.886;
  const body =
    look.shape === "round"
      ? element("circle", { cx: x, cy: y, r: radius, ...paint })
      : element("rect", { x: x - half, y: y - half, width: 2 * half, height: 2 * half, rx: 1, ...paint });
  const dot =
    byHand &&
    element("circle", {
      cx: x,
      cy: y,
      r: Math.max(1.2, radius * 0.36),
      fill: look.filled && !doubtful ? COLOUR.sheet : look.colour,
    });
  return element("g", { "data-paw": paw, opacity }, title ? element("title", {}, title) : null, body, dot);
}

/** A pole seen from above, lying across the picture from y0 to y1: pale, with bright bands. */
export function poleMark(x: number, y0: number, y1: number, thickness = 6): Markup {
  const length = y1 - y0;
  const bands = Math.max(1, Math.round(length / (thickness * 5)));
  const band = length / (2 * bands + 1);
  const left = x - thickness / 2;
  return element(
    "g",
    { "data-pole": "" },
    element("rect", {
      x: left,
      y: y0,
      width: thickness,
      height: length,
      rx: Math.min(thickness / 2, 3),
      fill: COLOUR.sheet,
      stroke: COLOUR.edge,
      "stroke-width": 1,
    }),
    Array.from({ length: bands }, (_, i) =>
      element("rect", {
        x: left,
        y: y0 + band * (2 * i + 1),
        width: thickness,
        height: band,
        fill: COLOUR.stripe,
      }),
    ),
  );
}

/** The print of a paw whose toes point to +x, about `size` pixels long, centred on (x, y). */
export function pawPrint(x: number, y: number, size: number, fill: string, towards: 1 | -1 = 1): Markup {
  const k = size / 30;
  return element(
    "g",
    { transform: `translate(${round(x)} ${round(y)}) scale(${round(k * towards)} ${round(k)})`, fill },
    element("path", {
      d: "M-3 0C-3 5-8 9-12 9-15 9-16 6.6-16 4.4-16 2.7-15.4 1.7-15.4 0s-.6-2.7-.6-4.4C-16-6.6-15-9-12-9-8-9-3-5-3 0z",
    }),
    element("ellipse", { cx: 1, cy: -9.6, rx: 4.2, ry: 2.9 }),
    element("ellipse", { cx: 8.6, cy: -3.6, rx: 4.6, ry: 3 }),
    element("ellipse", { cx: 8.6, cy: 3.6, rx: 4.6, ry: 3 }),
    element("ellipse", { cx: 1, cy: 9.6, rx: 4.2, ry: 2.9 }),
  );
}

function round(value: number): number {
  return Math.round(value * 1000) / 1000;
}
