import { max, min, scaleLinear } from "d3";
import type { Paw } from "../gait/types.ts";
import type { PassJudgement, PlacedLanding } from "../spacing/types.ts";
import { checkWidth, type DrawingOptions, drawing, legend, NARROW, TEXT, words } from "./frame.ts";
import { numberText } from "./lengths.ts";
import { isDoubtful, PAW_LOOKS, pawMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";

export interface StancesData {
  /** One panel is drawn for each pass; all share one time scale. */
  passes: readonly PassJudgement[];
}

const ORDER: Paw[] = ["LH", "RH", "LF", "RF"];
const ROW = 17;
const BAR = 12;

/** When each foot stood on the ground. */
export function drawStances(data: StancesData, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const narrow = width < NARROW;
  const left = narrow ? 34 : 92;
  const right = width - 14;
  const spans = data.passes.map((pass) => ({
    startS: min(pass.landings, (landing) => landing.onS) ?? 0,
    endS: max(pass.landings, (landing) => landing.offS) ?? 0,
  }));
  const longest = max(spans, (span) => span.endS - span.startS) || 1;
  const x = scaleLinear().domain([0, longest]).range([left, right]);

  let y = 0;
  const panels = data.passes.map((pass, i) => {
    const top = y + 22;
    y = top + ROW * ORDER.length + 10;
    return drawPanel(pass, i, spans[i]?.startS ?? 0, top, x, left, right, narrow);
  });
  const ticks = x.ticks(narrow ? 4 : 8);
  const landings = data.passes.flatMap((pass) => pass.landings);
  const key = legend(
    [
      { label: "hind", sign: (cx, cy) => sampleBar(cx, cy, "LH", false) },
      { label: "fore", sign: (cx, cy) => sampleBar(cx, cy, "LF", false) },
      ...(landings.some(isDoubtful)
        ? [{ label: "doubtful", sign: (cx: number, cy: number) => sampleBar(cx, cy, "LH", true) }]
        : []),
      ...(landings.some((landing) => landing.source === "hand")
        ? [
            {
              label: "placed by hand",
              sign: (cx: number, cy: number) =>
                element("g", {}, sampleBar(cx, cy, "LH", false), handDot(cx, cy, "LH", false)),
            },
          ]
        : []),
      {
        label: "number = gap",
        sign: (cx, cy) => words(cx, cy + 4, "2", { anchor: "middle", size: TEXT.small }),
      },
    ],
    left,
    y + 40,
    right - left,
  );
  return drawing(
    {
      id: options.id ?? "stances",
      title: "When each foot stood on the ground",
      description: describe(data),
      width,
      height: y + 42 + key.height,
    },
    ticks.map((tick) =>
      element("line", { x1: x(tick), x2: x(tick), y1: 18, y2: y, stroke: COLOUR.line, "stroke-width": 1 }),
    ),
    panels,
    ticks.map((tick) =>
      words(x(tick), y + 14, numberText(tick, longest < 2 ? 1 : Number.isInteger(tick) ? 0 : 1), {
        anchor: "middle",
        size: TEXT.small,
        fill: COLOUR.inkSoft,
      }),
    ),
    words((left + right) / 2, y + 31, "seconds from the first touch-down of the pass", {
      anchor: "middle",
      size: TEXT.small,
      fill: COLOUR.inkSoft,
    }),
    key.markup,
  );
}

function drawPanel(
  pass: PassJudgement,
  index: number,
  startS: number,
  top: number,
  x: (s: number) => number,
  left: number,
  right: number,
  narrow: boolean,
): Markup {
  return element(
    "g",
    { "data-pass": pass.passId },
    words(4, top - 7, `Pass ${index + 1}`, { weight: 650, halo: true }),
    ORDER.map((paw, row) => {
      const middle = top + ROW * (row + 0.5);
      return [
        element("line", { x1: left, x2: right, y1: middle, y2: middle, stroke: COLOUR.line }),
        pawMark({ paw, x: 12, y: middle, radius: 5.5 }),
        !narrow && words(22, middle + 4, PAW_LOOKS[paw].name, { size: TEXT.small, fill: COLOUR.inkSoft }),
        pass.landings
          .filter((landing) => landing.paw === paw)
          .map((landing) => stanceBar(landing, startS, middle, x)),
      ];
    }),
  );
}

function stanceBar(landing: PlacedLanding, startS: number, middle: number, x: (s: number) => number): Markup {
  const [x0, x1] = [x(landing.onS - startS), x(landing.offS - startS)];
  const doubtful = isDoubtful(landing);
  const look = PAW_LOOKS[landing.paw];
  const label = landing.gap === null ? null : String(landing.gap + 1);
  return element(
    "g",
    { "data-landing": landing.id },
    bar(x0, x1, middle, landing.paw, doubtful),
    landing.source === "hand" && handDot(x0 + 6, middle, landing.paw, doubtful),
    label !== null &&
      x1 - x0 > 16 &&
      words((x0 + x1) / 2 + (landing.source === "hand" ? 4 : 0), middle + 3.6, label, {
        anchor: "middle",
        size: 10,
        weight: 650,
        fill: look.filled && !doubtful ? COLOUR.sheet : look.colour,
      }),
  );
}

function bar(x0: number, x1: number, middle: number, paw: Paw, doubtful: boolean): Markup {
  const look = PAW_LOOKS[paw];
  return element("rect", {
    x: x0,
    y: middle - BAR / 2,
    width: Math.max(2, x1 - x0),
    height: BAR,
    rx: look.shape === "round" ? BAR / 2 : 1,
    fill: look.filled ? look.colour : COLOUR.sheet,
    "fill-opacity": look.filled && doubtful ? 0.3 : null,
    stroke: look.colour,
    "stroke-width": 1.5,
    "stroke-dasharray": doubtful ? "3 2" : null,
  });
}

function sampleBar(cx: number, cy: number, paw: Paw, doubtful: boolean): Markup {
  return bar(cx - 8, cx + 8, cy, paw, doubtful);
}

function handDot(cx: number, cy: number, paw: Paw, doubtful: boolean): Markup {
  const look = PAW_LOOKS[paw];
  return element("circle", {
    cx,
    cy,
    r: 2.2,
    fill: look.filled && !doubtful ? COLOUR.sheet : look.colour,
  });
}

function describe({ passes }: StancesData): string {
  return passes
    .map((pass, i) => {
      const feet = ORDER.map((paw) => {
        const stances = pass.landings.filter((landing) => landing.paw === paw);
        const total = stances.reduce((sum, { onS, offS }) => sum + offS - onS, 0);
        return stances.length === 0
          ? `${PAW_LOOKS[paw].name} none`
          : `${PAW_LOOKS[paw].name} ${stances.length}, ${(total / stances.length).toFixed(2)} s on average`;
      });
      return `Pass ${i + 1}, stances: ${feet.join("; ")}.`;
    })
    .join(" ");
}
