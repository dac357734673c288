import { group, scaleLinear } from "d3";
import type { Paw } from "../gait/types.ts";
import { tapeText } from "../spacing/lengths.ts";
import type { Judgement, VerdictKind } from "../spacing/types.ts";
import { arrow } from "./arrow.ts";
import { checkWidth, type DrawingOptions, drawing, NARROW, TEXT, words } from "./frame.ts";
import { lengthText, spacingText, type Units } from "./lengths.ts";
import { isDoubtful, PAW_LOOKS, pawMark, pawPrint, poleMark } from "./marks.ts";
import { COLOUR } from "./palette.ts";
import { element, type Markup, together } from "./svg.ts";
import { meanShare, passesToDraw, type TravelLanding, travelLandings, travelTarget } from "./travel.ts";

export interface VerdictPictureData {
  gapsM: readonly number[];
  targetFractions: readonly number[];
  judgement: Pick<Judgement, "verdict" | "passes" | "meanFraction" | "scatter">;
}

interface Scene {
  data: VerdictPictureData;
  landings: TravelLanding[];
  /** Mean gap of the row, metres. */
  gapM: number;
  x: (metres: number) => number;
  top: number;
  bottom: number;
  middle: number;
  units: Units;
}

const CREEPING = new Set<VerdictKind>(["too-close", "too-far"]);
const STEADY = new Set<VerdictKind>(["fits", "fits-move-start"]);

/** One gap to scale, the dog going to the right: where its hind feet land, and what to move, how far. */
export function drawVerdictPicture(data: VerdictPictureData, options: DrawingOptions): string {
  const width = checkWidth(options.width);
  const { units } = options;
  const narrow = width < NARROW;
  const { verdict } = data.judgement;
  const gapCount = Math.max(1, data.gapsM.length);
  const gapM = data.gapsM.reduce((sum, gap) => sum + gap, 0) / gapCount;
  const nextM = movedSpacing(verdict.spacingM, gapM);
  const widest = Math.max(gapM, nextM ?? 0);
  const x = scaleLinear()
    .domain([-0.22 * gapM, widest + 0.22 * gapM])
    .range([0, width]);
  const top = 40;
  const bottom = top + (narrow ? 104 : 116);
  const landings = passesToDraw(data.judgement.passes).flatMap((pass) => travelLandings(pass, gapCount));
  const scene: Scene = {
    data,
    landings,
    gapM,
    x,
    top,
    bottom,
    middle: (top + bottom) / 2,
    units,
  };

  return drawing(
    {
      id: options.id ?? "verdict-picture",
      title: "Where the hind feet land in the gap",
      description: describe(scene, nextM),
      width,
      height: bottom + (nextM === null ? 34 : 62),
    },
    element("rect", { x: 0, y: top, width, height: bottom - top, rx: 10, fill: COLOUR.sunk }),
    target(scene),
    dimension(x(0), x(gapM), 20, `${spacingText(gapM, units)} ${nextM === null ? "" : "now"}`.trim(), false),
    poleMark(x(0), top - 6, bottom + 6, 10),
    nextM === null ? poleMark(x(gapM), top - 6, bottom + 6, 10) : movedPole(scene, nextM),
    cloud(scene),
    feet(scene),
    caption(scene, nextM, width),
  );
}

/** A spacing that differs from what lies there by less than half a centimetre is the same spacing. */
function movedSpacing(spacingM: number | null, gapM: number): number | null {
  return spacingM !== null && Math.abs(spacingM - gapM) >= 0.005 ? spacingM : null;
}

function target({ data, x, gapM, top, bottom }: Scene): Markup {
  const share = data.targetFractions.every((fraction) => fraction === data.targetFractions[0])
    ? travelTarget(data.targetFractions, 0, 1)
    : null;
  if (share === null) return together();
  return element("rect", {
    x: x(share * gapM) - 2,
    y: top,
    width: 4,
    height: bottom - top,
    fill: COLOUR.go,
    "fill-opacity": 0.25,
    "data-target": "",
  });
}

/** A length with an arrow at each end, as on a working drawing. */
function dimension(x0: number, x1: number, y: number, label: string, strong: boolean): Markup {
  const middle = (x0 + x1) / 2;
  const colour = strong ? COLOUR.go : COLOUR.inkSoft;
  return element(
    "g",
    {},
    arrow(middle, x0, y, 1.25, colour),
    arrow(middle, x1, y, 1.25, colour),
    words(middle, y - 6, label, { anchor: "middle", weight: 650, fill: colour, size: TEXT.size }),
  );
}

/** The pole where it lies, faint, where it should lie, and the way between. */
function movedPole({ x, gapM, top, bottom }: Scene, nextM: number): Markup {
  const [from, to] = [x(gapM), x(nextM)];
  return together(
    element("g", { opacity: 0.4 }, poleMark(from, top - 6, bottom + 6, 10)),
    element(
      "g",
      { "data-next-pole": "" },
      poleMark(to, top - 6, bottom + 6, 10),
      element("rect", {
        x: to - 8,
        y: top - 9,
        width: 16,
        height: bottom - top + 18,
        rx: 6,
        fill: "none",
        stroke: COLOUR.go,
        "stroke-width": 2,
      }),
    ),
    arrow(x(0), to, bottom + 18, 1.25, COLOUR.go),
    arrow(to, x(0), bottom + 18, 1.25, COLOUR.go),
  );
}

/** Every hind landing, small: left above, right below, as seen from above on a dog going to the right. */
function cloud({ landings, x, gapM, top, bottom }: Scene): Markup {
  return element(
    "g",
    { "data-cloud": "" },
    landings.map((t, i) =>
      pawMark({
        paw: t.landing.paw,
        x: x(t.fraction * gapM),
        y: PAW_LOOKS[t.landing.paw].side === "left" ? top + 9 + (i % 2) * 7 : bottom - 9 - (i % 2) * 7,
        radius: 3.8,
        doubtful: isDoubtful(t.landing),
        byHand: t.landing.source === "hand",
        opacity: 0.75,
      }),
    ),
  );
}

function feet(scene: Scene): Markup {
  const { kind } = scene.data.judgement.verdict;
  if (CREEPING.has(kind)) return creepingFeet(scene);
  if (STEADY.has(kind)) return steadyFeet(scene);
  if (kind === "two-steps") return twoFeet(scene);
  if (kind === "stepped-over") return missingFoot(scene);
  if (kind === "not-steady") return scatteredFeet(scene);
  return together();
}

/** Left and right at their mean places, and the arrow that brings them to the place aimed at. */
function steadyFeet(scene: Scene): Markup {
  const { data, landings, x, gapM, middle, units } = scene;
  const { verdict, meanFraction } = data.judgement;
  const size = pawSize(scene);
  const paws = (["LH", "RH"] as Paw[]).map((paw) => {
    const share = meanShare(landings.filter((t) => t.landing.paw === paw).map((t) => t.fraction));
    const y = middle + (PAW_LOOKS[paw].side === "left" ? -1 : 1) * size * 0.54;
    return share === null ? null : pawBadge(paw, x(share * gapM), y, size);
  });
  if (verdict.moveStartM === null || meanFraction === null) return together(paws);
  // A start farther from the first pole brings every landing back by as much.
  const from = x(meanFraction * gapM);
  const to = x(meanFraction * gapM - verdict.moveStartM);
  const shift = startText(verdict.moveStartM, units);
  return together(
    paws,
    element("g", { "data-shift": "" }, arrow(from, to, scene.bottom - 8, 3, COLOUR.go)),
    words((from + to) / 2, scene.bottom - 16, shift, {
      anchor: "middle",
      weight: 700,
      fill: COLOUR.go,
      halo: true,
    }),
  );
}

/** The mean place in each gap, in the order met: the numbers walk through the gap. */
function creepingFeet(scene: Scene): Markup {
  const { landings, x, gapM, middle } = scene;
  const byMet = [...group(landings, (t) => t.met)].sort(([a], [b]) => a - b);
  const size = pawSize(scene) * 0.9;
  const prints = byMet.flatMap(([met, here], i) => {
    const share = meanShare(here.map((t) => t.fraction));
    if (share === null) return [];
    const strength = 0.35 + (0.65 * (i + 1)) / byMet.length;
    // Two heights in turn keep neighbours apart where the creep is small.
    const y = middle + (met % 2 === 0 ? -1 : 1) * size * 0.5;
    return [
      element(
        "g",
        { "data-met": met },
        element("g", { opacity: strength }, pawPrint(x(share * gapM), y, size, COLOUR.ink)),
        words(x(share * gapM) - size * 0.31, y + 3.6, String(met + 1), {
          anchor: "middle",
          size: 10,
          weight: 700,
          fill: COLOUR.sheet,
        }),
      ),
    ];
  });
  return together(prints);
}

/** First and second landing of a visit to a gap. */
function twoFeet(scene: Scene): Markup {
  const { data, landings, x, gapM, middle } = scene;
  const size = pawSize(scene);
  const visits = [
    ...group(
      landings,
      (t) => passKey(data, t),
      (t) => t.met,
    ).values(),
  ].flatMap((byMet) => [...byMet.values()].filter((visit) => visit.length === 2));
  return together(
    [0, 1].map((turn) => {
      const share = meanShare(visits.map((visit) => visit[turn]?.fraction ?? 0));
      if (share === null) return null;
      const at = x(share * gapM);
      return together(
        pawPrint(at, middle + (turn === 0 ? -1 : 1) * size * 0.4, size, COLOUR.ink),
        words(at - size * 0.31, middle + (turn === 0 ? -1 : 1) * size * 0.4 + 4, String(turn + 1), {
          anchor: "middle",
          size: 11,
          weight: 700,
          fill: COLOUR.sheet,
        }),
      );
    }),
  );
}

function passKey(data: VerdictPictureData, t: TravelLanding): string {
  return data.judgement.passes.find((pass) => pass.landings.includes(t.landing))?.passId ?? "";
}

/** An outline where a hind foot should have been. */
function missingFoot({ x, gapM, middle }: Scene): Markup {
  return together(
    element("circle", {
      cx: x(gapM / 2),
      cy: middle,
      r: 22,
      fill: COLOUR.sheet,
      "fill-opacity": 0.6,
      stroke: COLOUR.ink,
      "stroke-width": 2,
      "stroke-dasharray": "5 4",
      "data-missing": "",
    }),
    element("path", {
      d: `M${(x(gapM / 2) - 9).toFixed(1)} ${middle - 9}l18 18m0 -18l-18 18`,
      stroke: COLOUR.ink,
      "stroke-width": 2.5,
    }),
  );
}

/** The stretch over which the landings lie, as an arrow both ways. */
function scatteredFeet({ data, x, gapM, middle }: Scene): Markup {
  const { meanFraction, scatter } = data.judgement;
  if (meanFraction === null || scatter === null) return together();
  const from = x(Math.max(0, meanFraction - scatter) * gapM);
  const to = x(Math.min(1, meanFraction + scatter) * gapM);
  return element(
    "g",
    { "data-spread": "" },
    element("rect", {
      x: from,
      y: middle - 14,
      width: to - from,
      height: 28,
      rx: 14,
      fill: COLOUR.go,
      "fill-opacity": 0.2,
    }),
    arrow((from + to) / 2, from + 4, middle, 2, COLOUR.go),
    arrow((from + to) / 2, to - 4, middle, 2, COLOUR.go),
  );
}

/** About as long as the paw of a middling dog, 5 cm, as far as it can still be read and does not fill the strip. */
function pawSize({ x }: Scene): number {
  return Math.max(24, Math.min(38, 0.05 * (x(1) - x(0))));
}

function pawBadge(paw: Paw, x: number, y: number, size: number): Markup {
  return element(
    "g",
    { "data-badge": paw },
    pawMark({ paw, x, y, radius: size / 2 }),
    pawPrint(x + size * 0.03, y, size * 0.62, COLOUR.sheet),
  );
}

/** What to move, or what the picture shows, in a line or two under it. */
function caption({ data, x, gapM, bottom, units }: Scene, nextM: number | null, width: number): Markup {
  const { kind, moveStartM } = data.judgement.verdict;
  const lines: string[] = [];
  if (nextM !== null) {
    const change = lengthText(Math.abs(nextM - gapM), units, units === "in" ? 1 : 0);
    lines.push(`next ${tapeText(nextM, units)}: ${change} ${nextM > gapM ? "more" : "less"}`);
  }
  if (moveStartM !== null) {
    const way = moveStartM > 0 ? "farther from" : "nearer to";
    lines.push(`start ${startText(moveStartM, units)} ${way} the first pole`);
  }
  const note = NOTES[kind];
  const centre = nextM === null ? width / 2 : (x(0) + x(nextM)) / 2;
  return together(
    lines.map((line, i) =>
      words(centre, bottom + (nextM === null ? 24 : 36) + i * 18, line, {
        anchor: "middle",
        weight: 700,
        fill: COLOUR.go,
      }),
    ),
    note !== undefined &&
      words(width / 2, bottom + (nextM === null ? 24 : 36) + lines.length * 18, note, {
        anchor: "middle",
        size: TEXT.small,
        fill: COLOUR.inkSoft,
      }),
  );
}

const NOTES: Partial<Record<VerdictKind, string>> = {
  fits: "large: mean of the left and of the right hind foot",
  "too-close": "1, 2, 3 …: mean place in the gaps, in the order met",
  "too-far": "1, 2, 3 …: mean place in the gaps, in the order met",
  "two-steps": "1, 2: first and second landing in the same gap",
  "stepped-over": "gaps without a hind landing",
  "not-steady": "band: spread of the landings",
  "cannot-tell": "each mark: one hind landing",
};

function startText(moveStartM: number, units: Units): string {
  return lengthText(Math.abs(moveStartM), units, units === "in" ? 1 : 0);
}

function describe({ landings, gapM, data, units }: Scene, nextM: number | null): string {
  const places = (["LH", "RH"] as Paw[]).flatMap((paw) => {
    const share = meanShare(landings.filter((t) => t.landing.paw === paw).map((t) => t.fraction));
    return share === null ? [] : [`${PAW_LOOKS[paw].name} at ${Math.round(share * 100)} %`];
  });
  return [
    `One gap of ${spacingText(gapM, units)}, drawn to scale, the dog going to the right.`,
    places.length > 0
      ? `Mean place of the feet: ${places.join(", ")} of the gap.`
      : "No hind landing in the row.",
    nextM === null ? "" : `Next spacing ${spacingText(nextM, units)}.`,
    data.judgement.verdict.sentence,
  ]
    .filter(Boolean)
    .join(" ");
}
