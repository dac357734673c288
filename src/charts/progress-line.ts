import { extent, precisionFixed, scaleLinear, scaleTime, tickStep } from "d3";
import { checkWidth, type DrawingOptions, drawing, TEXT, words } from "./frame.ts";
import { numberText } from "./lengths.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";

export interface ProgressPoint {
  /** Milliseconds since 1970. */
  at: number;
  /** In the unit shown. */
  value: number;
  /** 95 % interval; null where none is known. */
  interval: [number, number] | null;
}

export interface ProgressLineData {
  /** What is measured, with its unit: "Step, cm". */
  name: string;
  points: readonly ProgressPoint[];
  digits: number;
  /**
   * Half-width of the band about the first point within which nothing has changed for sure, in the unit shown;
   * null where it is not known.
   */
  noise: number | null;
  /** A second thing in the same unit, drawn as bars behind the points: the spacing of the poles. */
  under?: { name: string; points: readonly { at: number; value: number }[] } | undefined;
}

const HEIGHT = 168;
const DAY = 86_400_000;

/** One measure over the weeks: each session with its interval, over the band of what can be chance. */
export function drawProgressLine(data: ProgressLineData, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { points, noise, under } = data;
  const left = 44;
  const right = width - 16;
  const top = 14;
  const bottom = HEIGHT - 34;
  const [first] = points;
  const band: [number, number] | null =
    first && noise !== null ? [first.value - noise, first.value + noise] : null;
  const [low = 0, high = 1] = extent([
    ...points.flatMap((point) => (point.interval ? [point.value, ...point.interval] : [point.value])),
    ...(band ?? []),
    ...(under?.points.map((point) => point.value) ?? []),
  ]);
  const y = scaleLinear()
    .domain(low === high ? [low - 1, high + 1] : [low, high])
    .nice(4)
    .range([bottom, top]);
  // Half a knock is nothing.
  const ticks = y.ticks(4).filter((tick) => data.digits > 0 || Number.isInteger(tick));
  const tickDigits = precisionFixed(tickStep(y.domain()[0] ?? 0, y.domain()[1] ?? 1, 4));
  const [from = 0, to = 0] = extent(points, (point) => point.at);
  const x = scaleTime()
    .domain(from === to ? [from - DAY, to + DAY] : [from, to])
    .range([left + 14, right - 14]);
  const days = dayTicks(points, x);

  return drawing(
    {
      id: options.id ?? "progress-line",
      title: `${data.name} over time`,
      description: describe(data),
      width,
      height: HEIGHT,
    },
    ticks.map((tick) => [
      element("line", { x1: left, x2: right, y1: y(tick), y2: y(tick), stroke: COLOUR.line }),
      words(left - 6, y(tick) + 4, numberText(tick, data.digits > 0 ? tickDigits : 0), {
        size: TEXT.small,
        anchor: "end",
        fill: COLOUR.inkSoft,
      }),
    ]),
    band &&
      points.length > 1 &&
      element("rect", {
        "data-noise": "",
        x: left,
        y: y(band[1]),
        width: right - left,
        height: y(band[0]) - y(band[1]),
        fill: COLOUR.edge,
        "fill-opacity": 0.2,
      }),
    under?.points.map((point) =>
      element("line", {
        "data-under": "",
        x1: x(point.at) - 11,
        x2: x(point.at) + 11,
        y1: y(point.value),
        y2: y(point.value),
        stroke: COLOUR.stripe,
        "stroke-width": 4,
      }),
    ),
    points.map((point) => pointMark(point, x, y)),
    days.map((at) =>
      words(x(at), bottom + 20, dayText(at), { size: TEXT.small, anchor: "middle", fill: COLOUR.inkSoft }),
    ),
  );
}

function pointMark(point: ProgressPoint, x: (at: number) => number, y: (value: number) => number): Markup {
  const at = x(point.at);
  return element(
    "g",
    { "data-point": "" },
    point.interval &&
      element("path", {
        d: `M${at - 5} ${y(point.interval[0])}h10M${at - 5} ${y(point.interval[1])}h10M${at} ${y(point.interval[0])}V${y(point.interval[1])}`,
        stroke: COLOUR.ink,
        "stroke-width": 1.75,
        fill: "none",
      }),
    element("path", {
      d: `M${at} ${y(point.value) - 6}l6 6-6 6-6-6z`,
      fill: COLOUR.go,
      stroke: COLOUR.sheet,
      "stroke-width": 1.25,
    }),
  );
}

/** Days worth writing: those of sessions, left out where they would touch. */
function dayTicks(points: readonly ProgressPoint[], x: (at: number) => number): number[] {
  const ticks: number[] = [];
  for (const { at } of points) {
    const last = ticks.at(-1);
    if (last === undefined || x(at) - x(last) > 52) ticks.push(at);
  }
  return ticks;
}

const day = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short" });

function dayText(at: number): string {
  return day.format(at);
}

function describe({ name, points, digits, under }: ProgressLineData): string {
  const values = points.map(({ at, value, interval }) => {
    const range = interval
      ? ` (95 % interval ${numberText(interval[0], digits)} to ${numberText(interval[1], digits)})`
      : "";
    return `${dayText(at)}: ${numberText(value, digits)}${range}`;
  });
  const behind = under
    ? ` ${under.name}: ${under.points.map((point) => `${dayText(point.at)} ${numberText(point.value, digits)}`).join(", ")}.`
    : "";
  return `${name}. ${values.join("; ")}.${behind}`;
}
