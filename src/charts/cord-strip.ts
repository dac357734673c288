import { range } from "d3";
import type { CordMark } from "../spacing/cord.ts";
import { spacingNumber } from "./layout-plan.ts";
import type { Units } from "./lengths.ts";
import { element, type Markup } from "./svg.ts";

/** Lengths here are millimetres on paper, so that a page printed at 100 % is a ruler. */
export const PIECE_MM = 200;
const STRIP_MM = 30;
const LAP_MM = 12;
const INK = "#13211c";
const SOFT = "#46564e";

/** How many pieces a strip that reaches a little beyond its last mark is cut into. */
export function pieceCount(marks: readonly CordMark[]): number {
  const last = Math.max(0, ...marks.map((mark) => mark.atM)) * 1000;
  return Math.max(1, Math.ceil((last + 5) / PIECE_MM));
}

/**
 * One piece of the strip, true to scale, upright: cut it out, lap it over the piece before up to the dashed line, glue.
 * Every piece shows where it lies on the cord.
 */
export function drawCordPiece(marks: readonly CordMark[], piece: number, units: Units, id: string): string {
  const from = piece * PIECE_MM;
  const to = from + PIECE_MM;
  const lap = piece === 0 ? 0 : LAP_MM;
  const height = PIECE_MM + lap;
  const y = (mm: number) => mm - from + lap;
  const here = marks.filter((mark) => mark.atM * 1000 >= from - 1e-6 && mark.atM * 1000 <= to + 1e-6);
  const name = `Piece ${piece + 1}: ${Math.round(from / 10)} to ${Math.round(to / 10)} cm`;
  return element(
    "svg",
    {
      xmlns: "http://www.w3.org/2000/svg",
      role: "img",
      "aria-labelledby": `${id}-title`,
      width: `${STRIP_MM}mm`,
      height: `${height}mm`,
      viewBox: `0 0 ${STRIP_MM} ${height}`,
      "font-size": 3,
      fill: INK,
    },
    element(
      "title",
      { id: `${id}-title` },
      `${name}. ${here.map((mark) => sentence(mark, units)).join(" ")}`,
    ),
    element("rect", {
      x: 0.15,
      y: 0.15,
      width: STRIP_MM - 0.3,
      height: height - 0.3,
      fill: "#fff",
      stroke: SOFT,
      "stroke-width": 0.3,
    }),
    lap > 0 &&
      element(
        "g",
        {},
        element("line", {
          x1: 0,
          x2: STRIP_MM,
          y1: lap,
          y2: lap,
          stroke: SOFT,
          "stroke-width": 0.3,
          "stroke-dasharray": "2 1.5",
        }),
        element(
          "text",
          { x: STRIP_MM / 2, y: lap / 2 + 1, "text-anchor": "middle", fill: SOFT },
          `glue under piece ${piece}`,
        ),
      ),
    piece === 0 &&
      element("text", { x: STRIP_MM / 2, y: 4, "text-anchor": "middle", fill: SOFT }, "0: first pole, loop"),
    ruler(from, to, y, here),
    here.map((mark) => markOn(mark, y(mark.atM * 1000), units)),
    element(
      "text",
      { x: STRIP_MM - 1.5, y: height - 2, "text-anchor": "end", fill: SOFT, "font-size": 2.6 },
      `${piece + 1}`,
    ),
  ).text;
}

/** A bar of exactly 10 cm, to be checked with a ruler before anything is cut. */
export function drawCheckBar(id: string): string {
  return element(
    "svg",
    {
      xmlns: "http://www.w3.org/2000/svg",
      role: "img",
      "aria-labelledby": `${id}-title`,
      width: "104mm",
      height: "13mm",
      viewBox: "0 0 104 13",
      "font-size": 3.4,
      fill: INK,
    },
    element("title", { id: `${id}-title` }, "A bar of exactly 10 cm"),
    element("rect", { x: 2, y: 2, width: 100, height: 3.5, "data-check": "" }),
    range(0, 11).map((cm) =>
      element("line", {
        x1: 2 + cm * 10,
        x2: 2 + cm * 10,
        y1: 2,
        y2: cm % 5 === 0 ? 8.5 : 7,
        stroke: INK,
        "stroke-width": 0.3,
      }),
    ),
    element("text", { x: 2, y: 12, "text-anchor": "start" }, "0"),
    element("text", { x: 52, y: 12, "text-anchor": "middle" }, "this bar must measure 10 cm"),
    element("text", { x: 102, y: 12, "text-anchor": "end" }, "10"),
  ).text;
}

function ruler(from: number, to: number, y: (mm: number) => number, marks: readonly CordMark[]): Markup[] {
  const free = (mm: number) => marks.every((mark) => Math.abs(mark.atM * 1000 - mm) > 4);
  return range(Math.ceil(from / 10), Math.floor(to / 10) + 1).map((cm) =>
    element(
      "g",
      {},
      element("line", {
        x1: 0,
        x2: cm % 10 === 0 ? 6 : cm % 5 === 0 ? 4.5 : 3,
        y1: y(cm * 10),
        y2: y(cm * 10),
        stroke: SOFT,
        "stroke-width": 0.25,
      }),
      cm % 10 === 0 && cm * 10 > from && cm * 10 < to && free(cm * 10)
        ? element("text", { x: 7, y: y(cm * 10) + 1, fill: SOFT, "font-size": 2.6 }, `${cm}`)
        : null,
    ),
  );
}

function markOn(mark: CordMark, y: number, units: Units): Markup {
  return element(
    "g",
    { "data-mark": mark.letters.join(" ") },
    element("line", { x1: 0, x2: STRIP_MM, y1: y, y2: y, stroke: INK, "stroke-width": 0.7 }),
    element(
      "text",
      { x: STRIP_MM - 1.5, y: y - 1.2, "text-anchor": "end", "font-size": 5.2, "font-weight": 700 },
      mark.letters.join(" "),
    ),
    element(
      "text",
      { x: STRIP_MM - 1.5, y: y + 3.4, "text-anchor": "end", "font-size": 2.8, fill: SOFT },
      `${spacingNumber(mark.atM, units)} ${units}`,
    ),
  );
}

function sentence(mark: CordMark, units: Units): string {
  return `${mark.letters.join(" and ")} at ${spacingNumber(mark.atM, units)} ${units}.`;
}
