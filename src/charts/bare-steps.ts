import { max, range, scaleLinear } from "d3";
import type { PassJudgement, PlacedLanding } from "../spacing/types.ts";
import { checkWidth, type DrawingOptions, drawing, legend, pawLegend, TEXT, words } from "./frame.ts";
import { lengthText, numberText, shown } from "./lengths.ts";
import { isDoubtful, isHind, pawMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";
import { countText } from "./travel.ts";

export interface BareStepsData {
  passes: readonly PassJudgement[];
  /** The step read from them, metres: what lies much farther apart is no single step. */
  stepM: number | null;
  /** How many passes to draw at most; eight when left out. */
  mostLanes?: number | undefined;
}

const LANE = 46;
/** More lanes than this tell no more and fill the page. */
const MOST_LANES = 8;
/** Two landings farther apart than this many steps have one unseen between them. */
const MISSED = 1.5;

/** Hind landings over bare ground, a lane for each pass that counts, with the length of every single step. */
export function drawBareSteps(
  { passes, stepM, mostLanes = MOST_LANES }: BareStepsData,
  options: DrawingOptions,
): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const lanes = passes
    .filter((pass) => pass.used)
    .map((pass) => alongWay(pass))
    .filter((feet) => feet.length > 1)
    .slice(0, mostLanes);
  const farthest = max(lanes.flatMap((feet) => feet.map((foot) => foot.atM))) ?? 1;
  const x = scaleLinear()
    .domain([0, farthest])
    .range([14, width - 14]);
  const bottom = 10 + lanes.length * LANE;
  const key = legend(
    [pawLegend("left hind", { paw: "LH" }), pawLegend("right hind", { paw: "RH" })],
    6,
    bottom + 26,
    width - 12,
  );
  return drawing(
    {
      id: options.id ?? "bare-steps",
      title: "Hind steps over bare ground",
      description: describe(lanes, stepM, options),
      width,
      height: bottom + 30 + key.height,
    },
    lanes.map((feet, lane) => laneMarkup(feet, 10 + lane * LANE, x, stepM, options)),
    metreScale(farthest, x, bottom, units),
    key.markup,
  );
}

interface Foot {
  landing: PlacedLanding;
  /** Along the way from the first hind landing, metres. */
  atM: number;
}

function alongWay({ landings, direction }: PassJudgement): Foot[] {
  const hind = landings.filter(isHind).toSorted((a, b) => a.onS - b.onS);
  const origin = hind[0]?.xM ?? 0;
  return hind.map((landing) => ({ landing, atM: (landing.xM - origin) * direction }));
}

function laneMarkup(
  feet: readonly Foot[],
  top: number,
  x: (metres: number) => number,
  stepM: number | null,
  { units, width }: DrawingOptions,
): Markup {
  const y = top + 28;
  return element(
    "g",
    { "data-lane": "" },
    element("rect", {
      x: 0,
      y: top + 14,
      width,
      height: LANE - 18,
      rx: 6,
      fill: COLOUR.sunk,
      "fill-opacity": 0.6,
    }),
    feet.slice(1).map((foot, i) => {
      const before = feet[i]?.atM ?? 0;
      const apart = foot.atM - before;
      const missed = stepM !== null && apart > MISSED * stepM;
      return [
        element("line", {
          x1: x(before) + 9,
          x2: x(foot.atM) - 9,
          y1: y,
          y2: y,
          stroke: COLOUR.inkSoft,
          "stroke-width": 1.25,
          "stroke-dasharray": missed ? "2 4" : null,
        }),
        words((x(before) + x(foot.atM)) / 2, top + 10, missed ? "?" : numberText(shown(apart, units), 0), {
          size: TEXT.small,
          anchor: "middle",
          fill: COLOUR.inkSoft,
        }),
      ];
    }),
    feet.map(({ landing, atM }) =>
      pawMark({
        paw: landing.paw,
        x: x(atM),
        y,
        radius: 7,
        doubtful: isDoubtful(landing),
        byHand: landing.source === "hand",
      }),
    ),
  );
}

function metreScale(
  farthestM: number,
  x: (metres: number) => number,
  y: number,
  units: DrawingOptions["units"],
): Markup {
  const everyM = units === "cm" ? 0.5 : 0.6096;
  return element(
    "g",
    {},
    range(0, farthestM + 1e-9, everyM).map((atM) => [
      element("line", { x1: x(atM), x2: x(atM), y1: y, y2: y + 5, stroke: COLOUR.edge }),
      words(x(atM), y + 18, numberText(shown(atM, units), 0), {
        size: TEXT.small,
        anchor: "middle",
        fill: COLOUR.inkSoft,
      }),
    ]),
  );
}

function describe(lanes: readonly Foot[][], stepM: number | null, { units }: DrawingOptions): string {
  const each = lanes.map((feet, i) => {
    const steps = feet.slice(1).map((foot, k) => lengthText(foot.atM - (feet[k]?.atM ?? 0), units));
    return `Pass ${i + 1}: ${countText(feet.length, "hind landing")}, steps ${steps.join(", ")}.`;
  });
  const mean = stepM === null ? "" : ` Mean step ${lengthText(stepM, units)}.`;
  return `${each.join(" ")}${mean} Steps above the marks in ${units}; a question mark where a landing went unseen.`;
}
