import { extent, scaleLinear } from "d3";
import { checkWidth, type DrawingOptions, drawing, legend, TEXT, words } from "./frame.ts";
import { numberText, shown } from "./lengths.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";
import { countText } from "./travel.ts";

export interface SpeedStep {
  speedMps: number;
  stepM: number;
  /** The newest session stands out from the others. */
  newest: boolean;
}

const HEIGHT = 240;

/** Step against speed, one mark a pass: a longer step at a higher speed is what any dog does. */
export function drawProgressSpeed(passes: readonly SpeedStep[], options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const left = 48;
  const right = width - 16;
  const top = 14;
  const bottom = HEIGHT - 62;
  const x = scaleLinear()
    .domain(padded(passes.map((pass) => pass.speedMps)))
    .nice(4)
    .range([left, right]);
  const y = scaleLinear()
    .domain(padded(passes.map((pass) => shown(pass.stepM, units))))
    .nice(4)
    .range([bottom, top]);
  const older = passes.filter((pass) => !pass.newest);
  const newest = passes.filter((pass) => pass.newest);
  const key = legend(
    [
      { label: "last session", sign: (cx: number, cy: number) => mark(cx, cy, true) },
      ...(older.length > 0
        ? [{ label: "earlier sessions", sign: (cx: number, cy: number) => mark(cx, cy, false) }]
        : []),
    ],
    left,
    HEIGHT - 22,
    width - left,
  );
  return drawing(
    {
      id: options.id ?? "progress-speed",
      title: "Step against speed",
      description: `${countText(newest.length, "pass", "passes")} of the last session and ${older.length} earlier ones. ${passes
        .map(
          (pass) =>
            `${numberText(pass.speedMps, 2)} m/s: ${numberText(shown(pass.stepM, units), 1)} ${units}`,
        )
        .join("; ")}.`,
      width,
      height: HEIGHT,
    },
    y.ticks(4).map((tick) => [
      element("line", { x1: left, x2: right, y1: y(tick), y2: y(tick), stroke: COLOUR.line }),
      words(left - 6, y(tick) + 4, y.tickFormat(4)(tick), {
        size: TEXT.small,
        anchor: "end",
        fill: COLOUR.inkSoft,
      }),
    ]),
    x.ticks(5).map((tick) =>
      words(x(tick), bottom + 18, x.tickFormat(5)(tick), {
        size: TEXT.small,
        anchor: "middle",
        fill: COLOUR.inkSoft,
      }),
    ),
    words((left + right) / 2, bottom + 34, `speed, m/s; step upwards, ${units}`, {
      size: TEXT.small,
      anchor: "middle",
      fill: COLOUR.inkSoft,
    }),
    [...older, ...newest].map((pass) => mark(x(pass.speedMps), y(shown(pass.stepM, units)), pass.newest)),
    key.markup,
  );
}

function mark(x: number, y: number, newest: boolean): Markup {
  return newest
    ? element("path", {
        d: `M${x} ${y - 6.5}l6.5 6.5-6.5 6.5-6.500-6.500z`,
        fill: COLOUR.go,
        stroke: COLOUR.sheet,
        "stroke-width": 1,
      })
    : element("circle", { cx: x, cy: y, r: 4, fill: "none", stroke: COLOUR.edge, "stroke-width": 1.75 });
}

/** A little room at both ends, also where all values are one. */
function padded(values: readonly number[]): [number, number] {
  const [low = 0, high = 1] = extent(values);
  const room = Math.max((high - low) * 0.08, Math.abs(high) * 0.02, 1e-3);
  return [low - room, high + room];
}
