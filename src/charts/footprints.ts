import { extent, scaleLinear } from "d3";
import { polePlaces } from "../spacing/travel.ts";
import type { PassJudgement, PlacedLanding } from "../spacing/types.ts";
import { arrow } from "./arrow.ts";
import {
  checkWidth,
  type DrawingOptions,
  drawing,
  type LegendItem,
  legend,
  NARROW,
  pawLegend,
  TEXT,
  textWidth,
  words,
} from "./frame.ts";
import { HALF_95, lengthText, marginText, signedLengthText, spacingText, type Units } from "./lengths.ts";
import { isDoubtful, isHind, PAW_LOOKS, pawMark, poleMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";
import { countText } from "./travel.ts";

export interface FootprintsData {
  /** Distance from each pole to the next, metres. */
  gapsM: readonly number[];
  /** One strip is drawn for each pass. */
  passes: readonly PassJudgement[];
  /** Turn of each pole about its middle, degrees, counter-clockwise from above; all straight when left out. */
  anglesDeg?: readonly number[] | undefined;
  /** True where the row runs to the left in the picture: the plan is then drawn as the camera saw it. */
  rowRunsLeft?: boolean | undefined;
}

/** Bounds of the strip across the row, metres: a dog's track is about this wide. */
const LEAST_STRIP_M = 0.42;
const MOST_STRIP_M = 1.1;
const AROUND_TRACK_M = 0.1;
const SIDE = 10;
/** Half of an ordinary pole: poles turn about their middle. */
const POLE_MIDDLE_M = 0.45;

/** All landings of each pass, seen from above and to scale, over the row of poles. */
export function drawFootprints(data: FootprintsData, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const narrow = width < NARROW;
  const poleX = polePlaces(data.gapsM);
  const rowEnd = poleX.at(-1) ?? 0;
  const outside = narrow ? 0.3 : 0.8;
  const [firstX = 0, lastX = rowEnd] = extent(
    data.passes.flatMap((pass) => pass.landings),
    (landing) => landing.xM,
  );
  const domain: [number, number] = [
    Math.max(Math.min(firstX, 0) - 0.16, -outside),
    Math.min(Math.max(lastX, rowEnd) + 0.16, rowEnd + outside),
  ];
  const range: [number, number] = data.rowRunsLeft ? [width - SIDE, SIDE] : [SIDE, width - SIDE];
  const x = scaleLinear().domain(domain).range(range);
  const pixelsPerMetre = Math.abs(x(1) - x(0));
  const radius = Math.max(3.5, Math.min(6.5, pixelsPerMetre * 0.035));

  const headHeight = 20;
  let y = headHeight;
  const strips = data.passes.map((pass, i) => {
    const top = y + 22;
    const strip = drawStrip(pass, i, {
      x,
      domain,
      poleX,
      top,
      pixelsPerMetre,
      radius,
      units,
      width,
      anglesDeg: data.anglesDeg,
    });
    y = top + strip.height + 10;
    return strip.markup;
  });

  const scaleLine = scaleBar(SIDE, y + 14, pixelsPerMetre, units);
  const all = data.passes.flatMap((pass) => pass.landings);
  const key = legend(legendFor(all), SIDE, y + 26, width - 2 * SIDE);

  return drawing(
    {
      id: options.id ?? "footprints",
      title: "Footprints over the row of poles",
      description: describe(data, units),
      width,
      height: y + 26 + key.height,
    },
    element(
      "g",
      { "data-gap-names": "" },
      data.gapsM.map((gap, i) => {
        const room = gap * pixelsPerMetre;
        const long = `gap ${i + 1} · ${spacingText(gap, units)}`;
        const short = `gap ${i + 1}`;
        const label = [long, short].find((text) => textWidth(text, TEXT.small) + 10 < room) ?? `${i + 1}`;
        return words(x((poleX[i] ?? 0) + gap / 2), 14, label, {
          anchor: "middle",
          size: TEXT.small,
          fill: COLOUR.inkSoft,
          weight: 600,
        });
      }),
    ),
    strips,
    scaleLine,
    key.markup,
  );
}

interface StripFrame {
  x: (xM: number) => number;
  domain: [number, number];
  poleX: number[];
  top: number;
  pixelsPerMetre: number;
  radius: number;
  units: Units;
  width: number;
  anglesDeg: readonly number[] | undefined;
}

function drawStrip(
  pass: PassJudgement,
  index: number,
  frame: StripFrame,
): { markup: Markup; height: number } {
  const { x, top, radius, pixelsPerMetre, units } = frame;
  const inside = pass.landings.filter(
    (landing) => landing.xM >= frame.domain[0] && landing.xM <= frame.domain[1],
  );
  const [low = 0, high = 0] = extent(inside, (landing) => landing.yM);
  const middle = (low + high) / 2;
  // The strip keeps the scale of the row; where marks would not fit, more ground is shown instead.
  const leastM = Math.max(LEAST_STRIP_M, (radius * 7) / pixelsPerMetre);
  const spanM = Math.min(Math.max(high - low + 2 * AROUND_TRACK_M, leastM), Math.max(MOST_STRIP_M, leastM));
  const height = spanM * pixelsPerMetre;
  const y = scaleLinear()
    .domain([middle - spanM / 2, middle + spanM / 2])
    .range([top + height, top])
    .clamp(true);

  const hind = inside.filter(isHind).sort((a, b) => a.onS - b.onS);
  const left = Math.min(x(frame.domain[0]), x(frame.domain[1]));
  const goesRight = (pass.direction === 1) === x(1) > x(0);
  return {
    height,
    markup: element(
      "g",
      { "data-pass": pass.passId },
      passLabel(pass, index, goesRight, top - 8),
      element("rect", {
        x: left,
        y: top,
        width: frame.width - 2 * SIDE,
        height,
        rx: 8,
        fill: COLOUR.sunk,
        "fill-opacity": 0.55,
      }),
      frame.poleX.map((poleX, pole) =>
        element(
          "g",
          { transform: turn(frame.anglesDeg?.[pole] ?? 0, x(poleX), y(POLE_MIDDLE_M), x(1) > x(0)) },
          poleMark(x(poleX), top, top + height, Math.max(4, radius * 1.1)),
        ),
      ),
      hind.length > 1 &&
        element("path", {
          d: `M${hind.map((landing) => `${x(landing.xM).toFixed(1)} ${y(landing.yM).toFixed(1)}`).join("L")}`,
          fill: "none",
          stroke: COLOUR.edge,
          "stroke-width": 1,
        }),
      // Fore prints first: a hind foot often lands on the print its own fore foot left, and hind is what counts.
      [...inside]
        .sort((a, b) => Number(isHind(a)) - Number(isHind(b)))
        .map((landing) => landingMark(landing, x, y(landing.yM), radius, units)),
    ),
  };
}

/** On a plan drawn as seen from the other side, a pole turns the other way. */
function turn(angleDeg: number, x: number, y: number, rightwards: boolean): string | null {
  if (angleDeg === 0) return null;
  return `rotate(${(rightwards ? -angleDeg : angleDeg).toFixed(1)} ${x.toFixed(1)} ${y.toFixed(1)})`;
}

function landingMark(
  landing: PlacedLanding,
  x: (xM: number) => number,
  y: number,
  radius: number,
  units: Units,
): Markup {
  const doubtful = isDoubtful(landing);
  const half = HALF_95 * landing.xSeM;
  const under = y + radius + 3;
  const [x0, x1] = [x(landing.xM - half), x(landing.xM + half)];
  return element(
    "g",
    { "data-landing": landing.id },
    Number.isFinite(half) &&
      element("path", {
        d: `M${x0.toFixed(1)} ${(under - 2).toFixed(1)}v4m0 -2H${x1.toFixed(1)}m0 -2v4`,
        fill: "none",
        stroke: COLOUR.ink,
        "stroke-width": 1,
        "data-whisker": "",
      }),
    pawMark({
      paw: landing.paw,
      x: x(landing.xM),
      y,
      radius: isHind(landing) ? radius : radius * 0.85,
      doubtful,
      byHand: landing.source === "hand",
      title: landingTitle(landing, units),
    }),
  );
}

/** A landing in words, for the resting pointer. */
export function landingTitle(landing: PlacedLanding, units: Units): string {
  const where =
    landing.gap === null || landing.offsetM === null
      ? `${lengthText(landing.xM, units)} from the first pole`
      : `gap ${landing.gap + 1}, ${signedLengthText(landing.offsetM, units)} from its middle`;
  const origin =
    landing.source === "hand" ? "placed by hand" : `${Math.round(landing.probability * 100)} % sure`;
  const margin = marginText(landing.xSeM, units);
  return [PAW_LOOKS[landing.paw].name, where, margin && `${margin} ${units}`, origin]
    .filter(Boolean)
    .join(", ");
}

function passLabel(pass: PassJudgement, index: number, goesRight: boolean, y: number) {
  const name = `Pass ${index + 1}`;
  const arrowStart = SIDE + name.length * 7.6 + 6;
  const arrowEnd = arrowStart + 26;
  const facts = [
    `${pass.speedMps.toFixed(2)} m/s`,
    pass.knocks.length > 0 && countText(pass.knocks.length, "knock"),
    !pass.used && "not counted",
  ].filter((fact) => fact !== false);
  return element(
    "g",
    {},
    words(SIDE, y, name, { weight: 650 }),
    goesRight ? arrow(arrowStart, arrowEnd, y - 4.5, 1.75) : arrow(arrowEnd, arrowStart, y - 4.5, 1.75),
    words(arrowEnd + 10, y, facts.join(" · "), { fill: COLOUR.inkSoft, size: TEXT.small }),
  );
}

/** A length that a person can picture, drawn to scale. */
function scaleBar(x: number, y: number, pixelsPerMetre: number, units: Units): Markup {
  const lengthM = units === "cm" ? 0.5 : 0.0254 * 20;
  const end = x + lengthM * pixelsPerMetre;
  return element(
    "g",
    { "data-scale": "" },
    element("path", {
      d: `M${x} ${y - 4}v8m0 -4H${end.toFixed(1)}m0 -4v8`,
      stroke: COLOUR.inkSoft,
      "stroke-width": 1.25,
      fill: "none",
    }),
    words(end + 8, y + 4, `${lengthText(lengthM, units, 0)}, same scale both ways`, {
      size: TEXT.small,
      fill: COLOUR.inkSoft,
    }),
  );
}

function legendFor(landings: PlacedLanding[]): LegendItem[] {
  const has = (test: (landing: PlacedLanding) => boolean) => landings.some(test);
  return [
    has((l) => l.paw === "LH") && pawLegend("left hind", { paw: "LH" }),
    has((l) => l.paw === "RH") && pawLegend("right hind", { paw: "RH" }),
    has((l) => l.paw === "LF") && pawLegend("left fore", { paw: "LF" }),
    has((l) => l.paw === "RF") && pawLegend("right fore", { paw: "RF" }),
    has(isDoubtful) && pawLegend("doubtful", { paw: "LH", doubtful: true }),
    has((l) => l.source === "hand") && pawLegend("placed by hand", { paw: "LH", byHand: true }),
    {
      label: "95 % interval",
      sign: (x: number, y: number) =>
        element("path", {
          d: `M${x - 7} ${y - 2}v4m0 -2h14m0 -2v4`,
          stroke: COLOUR.ink,
          "stroke-width": 1,
          fill: "none",
        }),
    },
  ].filter((item): item is LegendItem => item !== false);
}

function describe({ gapsM, passes }: FootprintsData, units: Units): string {
  const sentences = passes.map((pass, i) => {
    const hind = pass.landings.filter((landing) => isHind(landing) && landing.gap !== null);
    const places = hind.map(
      (landing) =>
        `${PAW_LOOKS[landing.paw].name} in gap ${(landing.gap ?? 0) + 1} at ${Math.round((landing.gapFraction ?? 0) * 100)} %`,
    );
    return `Pass ${i + 1}: ${places.join(", ") || "no hind landing in the row"}.`;
  });
  const gaps = gapsM.map((gap) => spacingText(gap, units)).join(", ");
  return `Seen from above. Gaps between poles: ${gaps}. ${sentences.join(" ")}`;
}
