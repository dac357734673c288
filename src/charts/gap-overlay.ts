import { scaleLinear } from "d3";
import type { PassJudgement } from "../spacing/types.ts";
import { arrow } from "./arrow.ts";
import { landingTitle } from "./footprints.ts";
import { checkWidth, type DrawingOptions, drawing, legend, NARROW, pawLegend, TEXT, words } from "./frame.ts";
import { numberText, percentText, shown, spacingText, type Units } from "./lengths.ts";
import { isDoubtful, pawMark, poleMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";
import {
  countText,
  evenGap,
  type NumberedPass,
  numberedPasses,
  type TravelLanding,
  travelLandings,
  travelTarget,
} from "./travel.ts";

export interface GapOverlayData {
  gapsM: readonly number[];
  passes: readonly PassJudgement[];
  /** Where a hind foot should land in each gap, 0 to 1. */
  targetFractions: readonly number[];
  /** Circular mean of the gap fraction in the direction of travel, pooled over the passes. */
  meanFraction: number | null;
  /** Circular spread about it after creep is removed, share of a gap. */
  scatter: number | null;
}

const LINE = 11;
const POLE = 8;

/**
 * All gaps laid over one another, each hind landing at its share of the gap. In a pass the gaps follow each other
 * downwards, so that landings which creep lie on a slant.
 */
export function drawGapOverlay(data: GapOverlayData, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const narrow = width < NARROW;
  const passes = numberedPasses(data.passes);
  const gapCount = data.gapsM.length;
  const left = narrow ? 52 : 74;
  const right = 22;
  const x = scaleLinear()
    .domain([0, 1])
    .range([left, width - right]);

  const top = 34;
  let y = top + 6;
  const bands = passes.map(({ pass, number }) => {
    const landings = travelLandings(pass, gapCount);
    const height = gapCount * LINE + 8;
    const band = drawPass(pass, number, landings, { y, height, x, data, narrow, width, options });
    y += height + 6;
    return band;
  });
  const summaryTop = y + 2;
  const summary = drawSummary(data, passes, x, summaryTop, width, left);
  const bottom = summaryTop + 34;

  const all = passes.flatMap(({ pass }) => travelLandings(pass, gapCount)).map((t) => t.landing);
  const key = legend(
    [
      ...(all.some((l) => l.paw === "LH") ? [pawLegend("left hind", { paw: "LH" })] : []),
      ...(all.some((l) => l.paw === "RH") ? [pawLegend("right hind", { paw: "RH" })] : []),
      ...(all.some(isDoubtful) ? [pawLegend("doubtful", { paw: "LH", doubtful: true })] : []),
      ...(all.some((l) => l.source === "hand")
        ? [pawLegend("placed by hand", { paw: "LH", byHand: true })]
        : []),
      { label: "place aimed at", sign: (cx: number, cy: number) => targetMark(cx, cy - 6, cy + 6) },
      { label: "mean", sign: (cx: number, cy: number) => meanMark(cx, cy) },
      {
        label: "spread, creep taken out",
        sign: (cx: number, cy: number) => spreadRect(cx - 8, cx + 8, cy - 5, 10),
      },
    ],
    left,
    bottom + 30,
    width - left - right,
  );

  return drawing(
    {
      id: options.id ?? "gap-overlay",
      title: "All gaps laid over one another",
      description: describe(data, passes, units),
      width,
      height: bottom + 32 + key.height,
    },
    words(x(0), 13, narrow ? "last pole" : "pole just passed", {
      size: TEXT.small,
      fill: COLOUR.inkSoft,
      anchor: "start",
    }),
    arrow(x(0.5) - 30, x(0.5) + 30, 9, 1.75, COLOUR.inkSoft),
    words(x(1), 13, narrow ? "next pole" : "pole to come", {
      size: TEXT.small,
      fill: COLOUR.inkSoft,
      anchor: "end",
    }),
    poleMark(x(0), top - 12, bottom, POLE),
    poleMark(x(1), top - 12, bottom, POLE),
    bands,
    summary,
    shareAxis(data.gapsM, x, bottom, units),
    key.markup,
  );
}

interface BandFrame {
  y: number;
  height: number;
  x: (share: number) => number;
  data: GapOverlayData;
  narrow: boolean;
  width: number;
  options: DrawingOptions;
}

function drawPass(pass: PassJudgement, number: number, landings: TravelLanding[], frame: BandFrame): Markup {
  const { x, y, height, data } = frame;
  const lineY = (met: number) => y + 4 + LINE * (met + 0.5);
  const gapCount = data.gapsM.length;
  const targets = Array.from({ length: gapCount }, (_, met) => {
    const gap = pass.direction === 1 ? met : gapCount - 1 - met;
    const share = x(travelTarget(data.targetFractions, gap, pass.direction));
    return targetMark(share, lineY(met) - LINE / 2, lineY(met) + LINE / 2);
  });
  const trail = landings.map((t) => `${x(t.fraction).toFixed(1)} ${lineY(t.met).toFixed(1)}`);
  return element(
    "g",
    { "data-pass": pass.passId },
    element("rect", {
      x: x(0) + POLE / 2,
      y,
      width: x(1) - x(0) - POLE,
      height,
      fill: COLOUR.sunk,
      "fill-opacity": 0.55,
    }),
    words(4, y + height / 2 + 4, frame.narrow ? `P ${number}` : `Pass ${number}`, { weight: 650 }),
    Array.from({ length: gapCount }, (_, met) =>
      words(x(0) - 8, lineY(met) + 3.5, String(pass.direction === 1 ? met + 1 : gapCount - met), {
        size: 9.5,
        anchor: "end",
        fill: COLOUR.inkSoft,
      }),
    ),
    targets,
    trail.length > 1 &&
      element("path", {
        d: `M${trail.join("L")}`,
        fill: "none",
        stroke: COLOUR.edge,
        "stroke-width": 1,
      }),
    landings.map((t) =>
      pawMark({
        paw: t.landing.paw,
        x: x(t.fraction),
        y: lineY(t.met),
        radius: 5.5,
        doubtful: isDoubtful(t.landing),
        byHand: t.landing.source === "hand",
        title: landingTitle(t.landing, frame.options.units),
      }),
    ),
  );
}

function drawSummary(
  data: GapOverlayData,
  passes: NumberedPass[],
  x: (share: number) => number,
  top: number,
  width: number,
  left: number,
): Markup {
  const middle = top + 16;
  const { meanFraction, scatter } = data;
  if (meanFraction === null) {
    return words((left + width) / 2, middle + 4, "too few landings for a mean", {
      anchor: "middle",
      size: TEXT.small,
      fill: COLOUR.inkSoft,
    });
  }
  const pieces = scatter === null ? [] : wrapped(meanFraction - scatter, meanFraction + scatter);
  return element(
    "g",
    { "data-summary": "" },
    words(4, middle + 4, passes.length === 1 ? "Mean" : "All", { weight: 650 }),
    pieces.map(([from, to]) => spreadRect(x(from), x(to), middle - 8, 16)),
    targetMark(x(mean(targetsOf(data, passes))), middle - 14, middle + 14),
    meanMark(x(meanFraction), middle),
  );
}

/** The pieces of a stretch that wraps around the gap's ends: a little before a pole is a little after the last. */
function wrapped(from: number, to: number): [number, number][] {
  if (to - from >= 1) return [[0, 1]];
  if (from < 0) {
    return [
      [0, to],
      [1 + from, 1],
    ];
  }
  if (to > 1) {
    return [
      [from, 1],
      [0, to - 1],
    ];
  }
  return [[from, to]];
}

function targetsOf(data: GapOverlayData, passes: NumberedPass[]): number[] {
  return passes.flatMap(({ pass }) =>
    data.gapsM.map((_, gap) => travelTarget(data.targetFractions, gap, pass.direction)),
  );
}

function mean(values: number[]): number {
  return values.length === 0 ? 0.5 : values.reduce((sum, value) => sum + value, 0) / values.length;
}

function targetMark(x: number, y0: number, y1: number): Markup {
  return element("line", {
    x1: x,
    x2: x,
    y1: y0,
    y2: y1,
    stroke: COLOUR.go,
    "stroke-width": 2.5,
    "stroke-opacity": 0.45,
    "data-target": "",
  });
}

function meanMark(x: number, y: number): Markup {
  return element("path", {
    d: `M${x.toFixed(1)} ${y - 8}l7 8l-7 8l-7 -8z`,
    fill: COLOUR.ink,
    stroke: COLOUR.sheet,
    "stroke-width": 1.25,
    "data-mean": "",
  });
}

function spreadRect(x0: number, x1: number, y: number, height: number): Markup {
  return element("rect", {
    x: x0,
    y,
    width: Math.max(1, x1 - x0),
    height,
    rx: 3,
    fill: COLOUR.go,
    "fill-opacity": 0.22,
    "data-spread": "",
  });
}

function shareAxis(gapsM: readonly number[], x: (share: number) => number, y: number, units: Units): Markup {
  const gapM = evenGap(gapsM);
  const label = (share: number) =>
    gapM !== null
      ? `${percentText(share)} · ${numberText(shown(share * gapM, units), 0)} ${units}`
      : percentText(share);
  return element(
    "g",
    { "data-axis": "" },
    [0, 0.25, 0.5, 0.75, 1].map((share) => [
      element("line", {
        x1: x(share),
        x2: x(share),
        y1: y,
        y2: y + 5,
        stroke: COLOUR.edge,
      }),
      share % 0.5 === 0 &&
        words(x(share) + (share === 1 ? 16 : share === 0 ? -6 : 0), y + 19, label(share), {
          anchor: share === 0 ? "start" : share === 1 ? "end" : "middle",
          size: TEXT.small,
          fill: COLOUR.inkSoft,
        }),
    ]),
  );
}

function describe(data: GapOverlayData, passes: NumberedPass[], units: Units): string {
  const n = passes.reduce((sum, { pass }) => sum + travelLandings(pass, data.gapsM.length).length, 0);
  const gapM = evenGap(data.gapsM);
  const size = gapM === null ? "" : ` of ${spacingText(gapM, units)}`;
  const where =
    data.meanFraction === null
      ? "Too few landings for a mean."
      : `On average the hind feet land at ${percentText(data.meanFraction)} of the gap (0 % = pole just passed, 100 % = pole to come)${
          data.scatter === null ? "" : `, spread ${percentText(data.scatter)}`
        }.`;
  return `${countText(n, "hind landing")} in ${countText(passes.length, "pass", "passes")} over ${countText(data.gapsM.length, "gap")}${size}. ${where}`;
}
