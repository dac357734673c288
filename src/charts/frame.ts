import type { Units } from "./lengths.ts";
import { type PawMark, pawMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { type Child, element, type Markup } from "./svg.ts";

/** What every drawing is asked for. */
export interface DrawingOptions {
  /** Width to draw for, CSS pixels, 240 to 2000. Text keeps its size, so draw anew instead of scaling. */
  width: number;
  units: Units;
  /** Unique on its page; the drawing's own name when left out. */
  id?: string | undefined;
}

/** Below this width labels are shortened and room is saved. */
export const NARROW = 520;

export const TEXT = { size: 13, small: 11.5 } as const;

/** @throws RangeError when the width is no number from 240 to 2000. */
export function checkWidth(width: number): number {
  if (!(width >= 240 && width <= 2000)) {
    throw new RangeError(`A drawing needs a width from 240 to 2000 pixels, not ${width}.`);
  }
  return width;
}

interface Frame {
  id: string;
  title: string;
  /** What the drawing shows, for those who can't see it. */
  description: string;
  width: number;
  height: number;
}

/** The whole drawing: an svg element with its name and description. */
export function drawing({ id, title, description, width, height }: Frame, ...children: Child[]): string {
  return element(
    "svg",
    {
      xmlns: "http://www.w3.org/2000/svg",
      role: "img",
      "aria-labelledby": `${id}-title ${id}-text`,
      viewBox: `0 0 ${Math.round(width)} ${Math.round(height)}`,
      width: Math.round(width),
      height: Math.round(height),
      "font-size": TEXT.size,
      fill: COLOUR.ink,
    },
    element("title", { id: `${id}-title` }, title),
    element("desc", { id: `${id}-text` }, description),
    ...children,
  ).text;
}

/** Width of text in pixels, near enough to place things: no page is there to measure it. */
export function textWidth(text: string, size: number = TEXT.size): number {
  return [...text].length * size * 0.58;
}

export interface Words {
  size?: number;
  anchor?: "start" | "middle" | "end";
  weight?: number;
  fill?: string;
  /** Lay a rim of the ground colour behind the letters, so that they can be read over lines. */
  halo?: boolean;
}

export function words(x: number, y: number, text: string, look: Words = {}): Markup {
  return element(
    "text",
    {
      x,
      y,
      "font-size": look.size === TEXT.size ? null : look.size,
      "text-anchor": look.anchor === "start" ? null : look.anchor,
      "font-weight": look.weight,
      fill: look.fill,
      ...(look.halo
        ? { stroke: COLOUR.sheet, "stroke-width": 3, "stroke-linejoin": "round", "paint-order": "stroke" }
        : {}),
    },
    text,
  );
}

export interface LegendItem {
  label: string;
  /** Draws the sign inside a box 16 pixels wide whose middle is given. */
  sign(x: number, y: number): Markup;
}

export function pawLegend(label: string, mark: Omit<PawMark, "x" | "y" | "radius">): LegendItem {
  return { label, sign: (x, y) => pawMark({ ...mark, x, y, radius: 5.5 }) };
}

export interface LaidOut {
  markup: Markup;
  height: number;
}

/** Signs and their words, in as many lines as the width asks for. */
export function legend(items: LegendItem[], x0: number, y0: number, width: number): LaidOut {
  const lineHeight = 20;
  let x = x0;
  let line = 0;
  const drawn = items.map((item) => {
    const itemWidth = 22 + textWidth(item.label, TEXT.small);
    if (x > x0 && x + itemWidth > x0 + width) {
      x = x0;
      line += 1;
    }
    const y = y0 + line * lineHeight + lineHeight / 2;
    const here = [
      item.sign(x + 8, y),
      words(x + 20, y + 4, item.label, { size: TEXT.small, fill: COLOUR.inkSoft }),
    ];
    x += itemWidth + 14;
    return here;
  });
  return { markup: element("g", { "data-legend": "" }, drawn), height: (line + 1) * lineHeight };
}
