import { pairs, range, scaleLinear } from "d3";
import { polePlaces } from "../spacing/travel.ts";
import type { Layout } from "../spacing/types.ts";
import { checkWidth, type DrawingOptions, drawing, TEXT, textWidth, words } from "./frame.ts";
import { shown, type Units } from "./lengths.ts";
import { pawPrint, poleMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";

const LANE = 64;

/**
 * A row to be laid, to scale: from above with the gaps and where a hind foot should land in each, from the side with
 * the heights where a pole is raised, and under it the running distance of each pole from the first, so that the row
 * can be laid with one tape.
 */
export function drawLayoutPlan(layout: Layout, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const poles = polePlaces(layout.gapsM);
  const total = poles.at(-1) ?? 0;
  const margin = 24;
  const x = scaleLinear()
    .domain([0, total])
    .range([margin, width - margin]);
  const pixelsPerMetre = (width - 2 * margin) / total;
  const highest = Math.max(0, ...layout.heightsM);
  const raised = highest > 0;

  const gapLine = 16;
  const laneTop = 28;
  const floor = laneTop + LANE + (raised ? 22 + highest * pixelsPerMetre : 0);
  const scaleLine = (raised ? floor : laneTop + LANE) + 20;

  const gapTexts = layout.gapsM.map((gap) => spacingNumber(gap, units));
  const roomInGaps = pairs(poles).every(
    ([a, b], i) => textWidth(gapTexts[i] ?? "", TEXT.size) + 6 < x(b) - x(a),
  );
  const ticks = poles.map((at) => spacingNumber(at, units));
  const widest = Math.max(...ticks.map((text) => textWidth(text, TEXT.small)));
  const closest = Math.min(...pairs(poles).map(([a, b]) => x(b) - x(a)));
  const upright = widest + 8 > closest;
  const height = scaleLine + (upright ? widest + 10 : 18) + 18;

  return drawing(
    {
      id: options.id ?? "layout-plan",
      title: "The row to scale",
      description: describe(layout, units),
      width,
      height,
    },
    roomInGaps &&
      pairs(poles).map(([a, b], i) =>
        words((x(a) + x(b)) / 2, gapLine, gapTexts[i] ?? "", { anchor: "middle", weight: 650 }),
      ),
    element("rect", { x: 0, y: laneTop, width, height: LANE, rx: 8, fill: COLOUR.sunk }),
    pairs(poles).map(([a, b], i) => target(x(a), x(b), layout.targetFractions[i] ?? 0.5, laneTop, i)),
    poles.map((at, i) => turned(layout.anglesDeg?.[i] ?? 0, x(at), laneTop + LANE / 2, laneTop)),
    raised && sideView(layout, poles, x, pixelsPerMetre, floor),
    poles.map((at, i) =>
      element(
        "g",
        {},
        element("line", {
          x1: x(at),
          x2: x(at),
          y1: scaleLine - 12,
          y2: scaleLine - 5,
          stroke: COLOUR.inkSoft,
        }),
        upright
          ? element(
              "g",
              { transform: `translate(${(x(at) + 4).toFixed(1)} ${scaleLine}) rotate(90)` },
              words(0, 0, ticks[i] ?? "", { size: TEXT.small }),
            )
          : words(x(at), scaleLine + 8, ticks[i] ?? "", { size: TEXT.small, anchor: "middle" }),
      ),
    ),
    words(
      margin,
      height - 4,
      `${units} from the first pole; ${roomInGaps ? "gaps above" : `${poles.length} poles`}`,
      {
        size: TEXT.small,
        fill: COLOUR.inkSoft,
      },
    ),
  );
}

/** A laid length without its unit: "48", and a decimal only where it needs one. */
export function spacingNumber(metres: number, units: Units): string {
  return String(Math.round(shown(metres, units) * 10) / 10);
}

function turned(degrees: number, x: number, middle: number, laneTop: number): Markup {
  const pole = poleMark(x, laneTop + 5, laneTop + LANE - 5, 7);
  // Positive is counter-clockwise from above; on the screen y runs down.
  return degrees === 0 ? pole : element("g", { transform: `rotate(${-degrees} ${x} ${middle})` }, pole);
}

/** The place aimed at, alternating from side to side as left and right hind take turns. */
function target(x0: number, x1: number, fraction: number, top: number, gap: number): Markup {
  const size = Math.min(20, (x1 - x0) * 0.4);
  const y = top + LANE / 2 + (gap % 2 === 0 ? -11 : 11);
  return element("g", { opacity: 0.55 }, pawPrint(x0 + fraction * (x1 - x0), y, size, COLOUR.inkSoft));
}

function sideView(
  layout: Layout,
  poles: number[],
  x: (metres: number) => number,
  pixelsPerMetre: number,
  floor: number,
): Markup {
  return element(
    "g",
    {},
    element("line", {
      x1: 0,
      x2: x(poles.at(-1) ?? 0) + 24,
      y1: floor,
      y2: floor,
      stroke: COLOUR.edge,
      "stroke-width": 1.5,
    }),
    range(poles.length).map((i) => {
      const at = x(poles[i] ?? 0);
      const up = (layout.heightsM[i] ?? 0) * pixelsPerMetre;
      return element(
        "g",
        {},
        element("line", {
          x1: at,
          x2: at,
          y1: floor,
          y2: floor - up,
          stroke: COLOUR.edge,
          "stroke-width": 2,
        }),
        element("circle", {
          cx: at,
          cy: floor - Math.max(up, 3),
          r: 4,
          fill: COLOUR.stripe,
          stroke: COLOUR.sheet,
          "stroke-width": 1,
        }),
      );
    }),
  );
}

function describe(layout: Layout, units: Units): string {
  const text = (metres: number) => spacingNumber(metres, units);
  const heights = new Set(layout.heightsM.map(text));
  const [only] = heights;
  return [
    `${layout.gapsM.length + 1} poles.`,
    `Gaps in ${units}: ${layout.gapsM.map(text).join(", ")}.`,
    `Distances from the first pole: ${polePlaces(layout.gapsM).map(text).join(", ")}.`,
    heights.size === 1
      ? only === "0"
        ? "All poles on the ground."
        : `All poles ${only} ${units} high.`
      : `Heights: ${layout.heightsM.map(text).join(", ")}.`,
  ].join(" ");
}
