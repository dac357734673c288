import { scaleLinear } from "d3";
import type { PassJudgement } from "../spacing/types.ts";
import { checkWidth, type DrawingOptions, drawing, legend, pawLegend, TEXT, words } from "./frame.ts";
import { percentText, spacingText } from "./lengths.ts";
import { isDoubtful, pawMark, poleMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup } from "./svg.ts";
import { evenGap, meanShare, passesToDraw, type TravelLanding, travelLandings } from "./travel.ts";

export interface PairSession {
  /** What it is called in the drawing, such as its day. */
  name: string;
  gapsM: readonly number[];
  passes: readonly PassJudgement[];
}

const LINE = 12;

/** Two sessions over one gap, one above the other: every counted hind landing at its share of its gap. */
export function drawProgressPair(earlier: PairSession, later: PairSession, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const left = 22;
  const x = scaleLinear()
    .domain([0, 1])
    .range([left, width - 22]);
  let y = 22;
  const bands = [earlier, later].map((session) => {
    const landings = passesToDraw(session.passes).flatMap((pass) =>
      travelLandings(pass, session.gapsM.length),
    );
    const top = y;
    const height = 10 + LINE * session.gapsM.length;
    y += 26 + height;
    return { session, landings, top, height };
  });
  const bottom = y - 10;
  const key = legend(
    [
      pawLegend("left hind", { paw: "LH" }),
      pawLegend("right hind", { paw: "RH" }),
      { label: "mean place", sign: (cx: number, cy: number) => meanLine(cx, cy - 7, cy + 7) },
    ],
    left,
    bottom + 22,
    width - 2 * left,
  );
  return drawing(
    {
      id: options.id ?? "progress-pair",
      title: "Two sessions over one gap",
      description: bands.map(({ session, landings }) => describe(session, landings)).join(" "),
      width,
      height: bottom + 26 + key.height,
    },
    bands.map(({ session, landings, top, height }) => {
      const gap = evenGap(session.gapsM);
      const mean = meanShare(landings.map((landing) => landing.fraction));
      return element(
        "g",
        { "data-session": session.name },
        words(
          left,
          top - 6,
          `${session.name}${gap === null ? ", uneven row" : `, ${spacingText(gap, options.units)}`}`,
          {
            size: TEXT.small,
            weight: 650,
          },
        ),
        element("rect", {
          x: x(0),
          y: top,
          width: x(1) - x(0),
          height,
          fill: COLOUR.sunk,
          "fill-opacity": 0.6,
        }),
        poleMark(x(0), top - 2, top + height + 2, 7),
        poleMark(x(1), top - 2, top + height + 2, 7),
        mean !== null && meanLine(x(mean), top, top + height),
        landings.map((t) =>
          pawMark({
            paw: t.landing.paw,
            x: x(t.fraction),
            y: top + 5 + LINE * (t.met + 0.5),
            radius: 5,
            doubtful: isDoubtful(t.landing),
            byHand: t.landing.source === "hand",
          }),
        ),
      );
    }),
    [0, 0.25, 0.5, 0.75, 1].map((share) =>
      words(x(share), bottom + 8, percentText(share), {
        size: TEXT.small,
        anchor: "middle",
        fill: COLOUR.inkSoft,
      }),
    ),
    key.markup,
  );
}

function meanLine(x: number, y0: number, y1: number): Markup {
  return element("line", { x1: x, x2: x, y1: y0, y2: y1, stroke: COLOUR.ink, "stroke-width": 2.5 });
}

function describe(session: PairSession, landings: readonly TravelLanding[]): string {
  const mean = meanShare(landings.map((landing) => landing.fraction));
  return `${session.name}: ${landings.length} hind landings${mean === null ? "" : `, on average at ${percentText(mean)} of the gap`}.`;
}
