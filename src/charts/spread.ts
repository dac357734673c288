import { deviation, scaleLinear } from "d3";
import type { PassJudgement } from "../spacing/types.ts";
import { checkWidth, type DrawingOptions, drawing, NARROW, TEXT, words } from "./frame.ts";
import { lengthText, numberText, shown, spacingText, type Units } from "./lengths.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";
import { countText, passesToDraw, travelLandings } from "./travel.ts";

export interface SpreadData {
  gapsM: readonly number[];
  passes: readonly PassJudgement[];
}

/** Spread of the hind landings in one gap over all passes. */
export interface GapSpread {
  gap: number;
  n: number;
  /** Standard deviation of the offset in the direction of travel, metres; null under two landings. */
  deviationM: number | null;
}

/** Fewer landings than this make a spread that is little more than chance (a choice of ours). */
const ENOUGH = 3;
const ROW = 26;

/** How far the hind landings of each gap lie apart, pass against pass. */
export function drawSpread(data: SpreadData, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const narrow = width < NARROW;
  const spreads = gapSpreads(data);
  const left = narrow ? 56 : 108;
  const right = width - (narrow ? 92 : 120);
  const most = Math.max(0.02, ...spreads.map((spread) => spread.deviationM ?? 0));
  const x = scaleLinear()
    .domain([0, shown(most, units)])
    .nice(4)
    .range([left, right]);
  const bottom = 8 + spreads.length * ROW;

  return drawing(
    {
      id: options.id ?? "spread",
      title: "Spread of the hind landings in each gap",
      description: describe(spreads, units),
      width,
      height: bottom + 42,
    },
    x.ticks(4).map((tick) => [
      element("line", {
        x1: x(tick),
        x2: x(tick),
        y1: 6,
        y2: bottom,
        stroke: tick === 0 ? COLOUR.edge : COLOUR.line,
      }),
      words(x(tick), bottom + 16, numberText(tick, Number.isInteger(tick) ? 0 : 1), {
        anchor: "middle",
        size: TEXT.small,
        fill: COLOUR.inkSoft,
      }),
    ]),
    words((left + right) / 2, bottom + 34, `standard deviation of the offset, ${units}`, {
      anchor: "middle",
      size: TEXT.small,
      fill: COLOUR.inkSoft,
    }),
    spreads.map((spread, i) =>
      drawBar(spread, narrow ? null : (data.gapsM[spread.gap] ?? null), 8 + i * ROW, x, left, units),
    ),
  );
}

/** Offsets are taken in the direction of travel: a dog that lands as far past the middle both ways is steady. */
export function gapSpreads({ gapsM, passes }: SpreadData): GapSpread[] {
  const landings = passesToDraw(passes).flatMap((pass) => travelLandings(pass, gapsM.length));
  return gapsM.map((_, gap) => {
    const offsets = landings.filter((t) => t.gap === gap).map((t) => t.offsetM);
    return { gap, n: offsets.length, deviationM: deviation(offsets) ?? null };
  });
}

function drawBar(
  spread: GapSpread,
  gapM: number | null,
  y: number,
  x: (value: number) => number,
  left: number,
  units: Units,
): Markup {
  const middle = y + ROW / 2;
  const few = spread.n < ENOUGH;
  const name = `gap ${spread.gap + 1}`;
  const label = gapM === null ? name : `${name} · ${spacingText(gapM, units)}`;
  const size = spread.deviationM === null ? 0 : x(shown(spread.deviationM, units)) - left;
  return element(
    "g",
    { "data-gap": spread.gap },
    words(left - 10, middle + 4.5, label, {
      anchor: "end",
      size: TEXT.small,
      fill: COLOUR.inkSoft,
    }),
    spread.deviationM !== null &&
      element("rect", {
        x: left,
        y: y + 5,
        width: size,
        height: ROW - 10,
        rx: 3,
        fill: COLOUR.go,
        "fill-opacity": few ? 0.15 : 0.85,
        stroke: COLOUR.go,
        "stroke-width": 1.25,
        "stroke-dasharray": few ? "3 2" : null,
      }),
    words(
      left + size + 8,
      middle + 4.5,
      spread.deviationM === null
        ? `n ${spread.n}`
        : `${lengthText(spread.deviationM, units)} · n ${spread.n}`,
      { size: TEXT.small, fill: COLOUR.ink, halo: true },
    ),
  );
}

function describe(spreads: GapSpread[], units: Units): string {
  return spreads
    .map(({ gap, n, deviationM }) =>
      deviationM === null
        ? `Gap ${gap + 1}: ${countText(n, "landing")}, no spread.`
        : `Gap ${gap + 1}: ${lengthText(deviationM, units)} from ${countText(n, "landing")}.`,
    )
    .join(" ");
}
