import { range, scaleLinear } from "d3";
import type { PassJudgement } from "../spacing/types.ts";
import type { Estimate } from "../stats/types.ts";
import { landingTitle } from "./footprints.ts";
import { checkWidth, type DrawingOptions, drawing, legend, pawLegend, TEXT, words } from "./frame.ts";
import { numberText, rangeText, shown, signedLengthText, signedText, type Units } from "./lengths.ts";
import { isDoubtful, pawMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";
import {
  countText,
  meanShare,
  numberedPasses,
  ordinal,
  type TravelLanding,
  travelLandings,
} from "./travel.ts";

export interface OffsetsData {
  gapsM: readonly number[];
  passes: readonly PassJudgement[];
  /** Change of offset from gap to gap in the direction of travel, metres, pooled; null when not measured. */
  creepMPerGap: Estimate | null;
}

/** Offset of each hind landing by the gap in which it fell, in the order in which the gaps were met. */
export function drawOffsets(data: OffsetsData, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const passes = numberedPasses(data.passes);
  const gapCount = data.gapsM.length;
  const gapM = data.gapsM.reduce((sum, gap) => sum + gap, 0) / Math.max(1, gapCount);
  const landings = passes.map(({ pass }) => travelLandings(pass, gapCount));
  const all = landings.flat();

  const left = 54;
  const top = 26;
  const plotHeight = 190;
  const x = scaleLinear()
    .domain([-0.5, gapCount - 0.5])
    .range([left, width - 12]);
  const reachM = Math.max(gapM / 2, ...all.map((t) => Math.abs(t.offsetM)));
  const y = scaleLinear()
    .domain([-shown(reachM, units), shown(reachM, units)])
    .range([top + plotHeight, top]);
  const bottom = top + plotHeight;

  const dodge = Math.min(0.14, 0.6 / Math.max(1, passes.length));
  const marks = landings.map((ofPass, i) =>
    element(
      "g",
      { "data-pass": passes[i]?.pass.passId },
      ofPass.map((t) =>
        pawMark({
          paw: t.landing.paw,
          x: x(t.met + (i - (passes.length - 1) / 2) * dodge),
          y: y(shown(t.offsetM, units)),
          radius: 5.5,
          doubtful: isDoubtful(t.landing),
          byHand: t.landing.source === "hand",
          title: `Pass ${passes[i]?.number}: ${landingTitle(t.landing, units)}`,
        }),
      ),
    ),
  );

  const key = legend(
    [
      ...(all.some((t) => t.landing.paw === "LH") ? [pawLegend("left hind", { paw: "LH" })] : []),
      ...(all.some((t) => t.landing.paw === "RH") ? [pawLegend("right hind", { paw: "RH" })] : []),
      ...(all.some((t) => isDoubtful(t.landing))
        ? [pawLegend("doubtful", { paw: "LH", doubtful: true })]
        : []),
      ...(all.some((t) => t.landing.source === "hand")
        ? [pawLegend("placed by hand", { paw: "LH", byHand: true })]
        : []),
      ...(data.creepMPerGap === null
        ? []
        : [
            {
              label: `creep ${signedLengthText(data.creepMPerGap.value, units)} a gap (95 %: ${rangeText(data.creepMPerGap.interval, units)})`,
              sign: (cx: number, cy: number) =>
                element(
                  "g",
                  {},
                  element("rect", {
                    x: cx - 8,
                    y: cy - 6,
                    width: 16,
                    height: 12,
                    fill: COLOUR.go,
                    "fill-opacity": 0.18,
                  }),
                  element("line", {
                    x1: cx - 8,
                    x2: cx + 8,
                    y1: cy,
                    y2: cy,
                    stroke: COLOUR.go,
                    "stroke-width": 2.25,
                  }),
                ),
            },
          ]),
    ],
    left,
    bottom + 44,
    width - left - 12,
  );

  return drawing(
    {
      id: options.id ?? "offsets",
      title: "Offset from the middle of the gap, gap by gap",
      description: describe(data, all, passes.length, units),
      width,
      height: bottom + 46 + key.height,
    },
    words(left, 13, `offset, ${units} (up = onward)`, {
      size: TEXT.small,
      fill: COLOUR.inkSoft,
    }),
    element("rect", {
      x: left,
      y: y(shown(gapM / 2, units)),
      width: width - 12 - left,
      height: y(-shown(gapM / 2, units)) - y(shown(gapM / 2, units)),
      fill: COLOUR.sunk,
      "fill-opacity": 0.55,
    }),
    yAxis(y, left, width - 12, units),
    poleEdges(y, left, width - 12, shown(gapM / 2, units)),
    range(gapCount).map((met) =>
      words(x(met), bottom + 18, ordinal(met + 1), {
        anchor: "middle",
        size: TEXT.small,
        fill: COLOUR.inkSoft,
      }),
    ),
    words((left + width - 12) / 2, bottom + 35, "gap, in the order met", {
      anchor: "middle",
      size: TEXT.small,
      fill: COLOUR.inkSoft,
    }),
    data.creepMPerGap && creepLine(data.creepMPerGap, all, gapM, x, (m) => y(shown(m, units)), gapCount),
    marks,
    key.markup,
  );
}

/**
 * The creep line through the circular mean of the landings, and the wedge of its interval about their middle.
 * A creeping dog runs past a pole at some time and is then early in the next gap: the line does the same.
 */
function creepLine(
  creep: Estimate,
  landings: TravelLanding[],
  gapM: number,
  x: (met: number) => number,
  y: (offsetM: number) => number,
  gapCount: number,
): Markup | null {
  if (landings.length === 0) return null;
  const pivot = landings.reduce((sum, t) => sum + t.met, 0) / landings.length;
  const share = meanShare(landings.map((t) => (t.offsetM - creep.value * (t.met - pivot)) / gapM));
  if (share === null) return null;
  const base = share > 0.5 ? share - 1 : share;
  const at = (slope: number, met: number) => base * gapM + slope * (met - pivot);
  const half = gapM / 2;
  const inGap = (offsetM: number) => Math.max(-half, Math.min(half, offsetM));

  const ends: [number, number] = [-0.4, gapCount - 0.6];
  const fullTurns = Math.ceil((Math.abs(creep.value) * gapCount) / gapM) + 1;
  const pieces = range(-fullTurns, fullTurns + 1).flatMap((turn) => {
    const shift = turn * gapM;
    const steps = range(81)
      .map((i) => ends[0] + ((ends[1] - ends[0]) * i) / 80)
      .filter((met) => Math.abs(at(creep.value, met) + shift) <= half);
    const [first, last] = [steps[0], steps.at(-1)];
    if (first === undefined || last === undefined || first === last) return [];
    const edge = (slopes: [number, number], choose: (a: number, b: number) => number) =>
      steps.map((met) => {
        const offsets = slopes.map((slope) => at(slope, met) + shift) as [number, number];
        return `${x(met).toFixed(1)} ${y(inGap(choose(...offsets))).toFixed(1)}`;
      });
    const upper = edge(creep.interval, Math.max);
    const lower = edge(creep.interval, Math.min).reverse();
    return [
      element("path", {
        d: `M${[...upper, ...lower].join("L")}Z`,
        fill: COLOUR.go,
        "fill-opacity": 0.18,
        "data-creep-band": "",
      }),
      element("line", {
        x1: x(first),
        x2: x(last),
        y1: y(at(creep.value, first) + shift),
        y2: y(at(creep.value, last) + shift),
        stroke: COLOUR.go,
        "stroke-width": 2.25,
        "data-creep": "",
      }),
    ];
  });
  return element("g", {}, pieces);
}

function yAxis(
  y: { (value: number): number; ticks(n: number): number[] },
  left: number,
  right: number,
  units: Units,
): Markup {
  return element(
    "g",
    { "data-axis": "" },
    y.ticks(6).map((tick) => [
      element("line", {
        x1: left,
        x2: right,
        y1: y(tick),
        y2: y(tick),
        stroke: tick === 0 ? COLOUR.edge : COLOUR.line,
        "stroke-width": tick === 0 ? 1.5 : 1,
      }),
      words(left - 8, y(tick) + 4, signedText(tick, units === "in" && !Number.isInteger(tick) ? 1 : 0), {
        anchor: "end",
        size: TEXT.small,
        fill: COLOUR.inkSoft,
      }),
    ]),
  );
}

/** The poles that close the gap, above and below. */
function poleEdges(y: (value: number) => number, left: number, right: number, half: number): Markup {
  return element(
    "g",
    {},
    [half, -half].map((edge) =>
      element("line", {
        x1: left,
        x2: right,
        y1: y(edge),
        y2: y(edge),
        stroke: COLOUR.stripe,
        "stroke-width": 4,
        "stroke-dasharray": "14 10",
        "data-pole-edge": "",
      }),
    ),
  );
}

function describe(data: OffsetsData, all: TravelLanding[], passCount: number, units: Units): string {
  const creep = data.creepMPerGap
    ? `Creep ${signedLengthText(data.creepMPerGap.value, units)} from gap to gap, 95 % interval ${rangeText(data.creepMPerGap.interval, units)}.`
    : "Too few landings for a creep.";
  const byGap = data.gapsM.map((_, met) => {
    const here = all.filter((t) => t.met === met).map((t) => numberText(shown(t.offsetM, units), 1));
    return here.length > 0 ? `${ordinal(met + 1)} gap: ${here.join(", ")} ${units}.` : "";
  });
  return `${countText(all.length, "hind landing")} in ${countText(passCount, "pass", "passes")}. ${creep} ${byGap.filter(Boolean).join(" ")}`;
}
