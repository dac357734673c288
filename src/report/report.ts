import { drawFootprints } from "../charts/footprints.ts";
import type { DrawingOptions } from "../charts/frame.ts";
import { drawGapOverlay } from "../charts/gap-overlay.ts";
import { lengthText, numberText, rangeText, spacingText, type Units } from "../charts/lengths.ts";
import { isDoubtful, pawPrint, poleMark } from "../charts/marks.ts";
import { drawOffsets } from "../charts/offsets.ts";
import { COLOUR } from "../charts/palette.ts";
import { drawSpread, gapSpreads } from "../charts/spread.ts";
import { drawStances } from "../charts/stances.ts";
import { element, Markup, together } from "../charts/svg.ts";
import { countText } from "../charts/travel.ts";
import { drawVerdictPicture } from "../charts/verdict-picture.ts";
import { groundToImage } from "../ground/map.ts";
import type { GroundMap } from "../ground/types.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import { aims } from "../spacing/aims.ts";
import { generalCautions } from "../spacing/cautions.ts";
import { tapeText } from "../spacing/lengths.ts";
import { polePlaces } from "../spacing/travel.ts";
import type { Judgement, Layout, VerdictKind } from "../spacing/types.ts";
import type { Dog, Session } from "../store/types.ts";
import { landingTables } from "./landing-table.ts";
import { BEYOND_A_PHONE } from "./limits.ts";
import { numbersTable } from "./numbers.ts";
import { PROGRAM } from "./program.ts";
import { REPORT_STYLE } from "./style.ts";
import { thresholdLines } from "./thresholds.ts";
import { FELT_WORDS, GAIT_WORDS, HANDLER_WORDS, STEP_AND_STRIDE, SURFACE_WORDS } from "./words.ts";

export interface ReportInput {
  judgement: Judgement;
  /** The clips the judgement rests on. */
  analyses: readonly ClipAnalysis[];
  layout: Layout;
  dog?: Pick<Dog, "name"> | undefined;
  session?:
    | Partial<
        Pick<
          Session,
          "date" | "gait" | "aim" | "surface" | "handlerSide" | "notes" | "howDogFelt" | "knocksSeen"
        >
      >
    | undefined;
  practitioner?:
    | { name: string; practice?: string | undefined; logo?: string | null | undefined }
    | undefined;
  /** Sentences of caution for this dog and aim; those of every report come after them. */
  cautions: readonly string[];
  units: Units;
  /** Pictures from the clips, as data URLs (JPEG, PNG or WebP); anything else is left out. */
  frames?: readonly { dataUrl: string; caption: string }[] | undefined;
}

/** Widths the drawings are made for: a printed page or desk, and a phone. */
const WIDE = 690;
const NARROW = 350;

type Size = Pick<DrawingOptions, "width" | "id">;

/** The report as one HTML page that stands alone: no script, nothing fetched, made to be printed. */
export function renderReport(input: ReportInput): string {
  const title = ["Pole spacing report", input.dog?.name].filter(Boolean).join(": ");
  const body = together(
    head(input),
    element(
      "main",
      {},
      verdictSection(input),
      cautionSection(input),
      numbersSection(input),
      chartsSection(input),
      framesSection(input),
      landingsSection(input),
      limitsSection(input),
      methodSection(input),
    ),
    element("footer", {}, `Made by ${PROGRAM} on this device. The film did not leave it.`),
  );
  const page = element(
    "html",
    { lang: "en" },
    element(
      "head",
      {},
      element("meta", { charset: "utf-8" }),
      element("meta", { name: "viewport", content: "width=device-width, initial-scale=1" }),
      // Even if some text slipped through, nothing could run and nothing could be fetched.
      element("meta", {
        "http-equiv": "Content-Security-Policy",
        content: "default-src 'none'; style-src 'unsafe-inline'; img-src data:",
      }),
      element("meta", { name: "generator", content: PROGRAM }),
      element("title", {}, title),
      element("style", {}, new Markup(REPORT_STYLE)),
    ),
    element("body", {}, body),
  );
  return `<!doctype html>\n${page.text}\n`;
}

function head({ dog, session, practitioner, layout }: ReportInput): Markup {
  const subject = [
    session?.date !== undefined && dayText(session.date),
    session?.gait && GAIT_WORDS[session.gait],
    session?.aim && `aim: ${aims[session.aim].name}`,
    countText(layout.gapsM.length + 1, "pole"),
  ].filter(Boolean);
  return element(
    "header",
    {},
    element(
      "div",
      { class: "head" },
      element("div", { class: "name" }, logo(), "Pawgap"),
      practitioner &&
        element(
          "div",
          { class: "by" },
          pictureUrl(practitioner.logo) && element("img", { src: practitioner.logo, alt: "" }),
          practitioner.name && element("div", {}, practitioner.name),
          practitioner.practice && element("div", { class: "soft" }, practitioner.practice),
        ),
    ),
    element(
      "h1",
      {},
      dog?.name ? `${dog.name}: do the poles fit its stride?` : "Do the poles fit its stride?",
    ),
    element("p", { class: "subject" }, subject.join(" · ")),
  );
}

const TONE: Record<VerdictKind, "" | "change" | "open"> = {
  fits: "",
  "fits-move-start": "change",
  "too-close": "change",
  "too-far": "change",
  "two-steps": "change",
  "stepped-over": "change",
  "not-steady": "open",
  "cannot-tell": "open",
};

function verdictSection({ judgement, layout, units }: ReportInput): Markup {
  const { verdict } = judgement;
  return element(
    "section",
    {},
    element(
      "div",
      { class: `verdict ${TONE[verdict.kind]}`.trim() },
      element("p", { class: "sentence" }, verdict.sentence),
      element("div", { class: "act" }, acts(judgement, layout, units)),
      element(
        "p",
        { class: "evidence" },
        `${verdict.evidence} ${Math.round(verdict.confidence * 100)} % of resamples give the same verdict.`,
      ),
    ),
    element(
      "div",
      { class: "picture" },
      both("verdict-picture", (size) =>
        drawVerdictPicture(
          { gapsM: layout.gapsM, targetFractions: layout.targetFractions, judgement },
          { ...size, units },
        ),
      ),
    ),
    element("div", { class: "next" }, element("strong", {}, "Next time: "), verdict.nextTime),
    judgement.notes.length > 0 &&
      element(
        "ul",
        {},
        judgement.notes.map((note) => element("li", {}, note)),
      ),
  );
}

/** The numbers to act on. */
function acts({ verdict }: Judgement, layout: Layout, units: Units): Markup[] {
  const act = (value: string, label: string) =>
    element("div", {}, element("b", {}, value), element("span", {}, label));
  const now = layout.gapsM[0] ?? 0;
  const keeps = verdict.spacingM !== null && Math.abs(verdict.spacingM - now) < 0.005;
  return [
    verdict.spacingM !== null &&
      act(
        tapeText(verdict.spacingM, units),
        keeps ? "spacing, as it is" : `next spacing (now ${spacingText(now, units)})`,
      ),
    verdict.moveStartM !== null &&
      act(
        lengthText(Math.abs(verdict.moveStartM), units, units === "in" ? 1 : 0),
        `start ${verdict.moveStartM > 0 ? "farther from" : "nearer to"} the first pole`,
      ),
    verdict.intervalM !== null && act(rangeText(verdict.intervalM, units), "would fit (95 % interval)"),
    verdict.morePasses != null &&
      act(
        verdict.morePasses === 1 ? "1 more pass" : `${verdict.morePasses} more passes`,
        "at one steady speed would about settle it",
      ),
  ].filter((markup): markup is Markup => markup !== false);
}

function numbersSection({ judgement, layout, units }: ReportInput): Markup {
  return element(
    "section",
    {},
    element("h2", {}, "The numbers"),
    numbersTable(judgement, layout, units),
    element(
      "div",
      { class: "small soft" },
      element("p", {}, STEP_AND_STRIDE),
      judgement.ownStep && element("p", {}, judgement.ownStep.sentence),
      judgement.leftRight && element("p", {}, judgement.leftRight.sentence),
    ),
  );
}

function chartsSection({ judgement, layout, analyses, units }: ReportInput): Markup {
  const { passes } = judgement;
  const row = { gapsM: layout.gapsM, passes, targetFractions: layout.targetFractions };
  const map = analyses[0]?.ground.map;
  const chart = (id: string, heading: string, note: string, draw: (size: Size) => string, wide = WIDE) =>
    element(
      "figure",
      {},
      element("figcaption", {}, element("strong", {}, heading), element("span", {}, note)),
      both(id, draw, wide),
    );
  const offsets = (wide?: number) =>
    chart(
      "offsets",
      "Offset from the middle of the gap",
      "With the creep line and its 95 % interval.",
      (o) => drawOffsets({ ...row, creepMPerGap: judgement.creepMPerGap }, { ...o, units }),
      wide,
    );
  const spread = (wide?: number) =>
    chart(
      "spread",
      "Spread in each gap",
      "Pass against pass. Dashed: under three landings.",
      (o) => drawSpread(row, { ...o, units }),
      wide,
    );
  return element(
    "section",
    {},
    element("h2", {}, "Where the feet landed"),
    passes.length === 0 && element("p", {}, "No pass was found in the film."),
    passes.length > 0 && [
      chart(
        "footprints",
        "Footprints over the poles",
        "Seen from above, the camera at the bottom. The bar under a mark is its 95 % interval.",
        (o) =>
          drawFootprints(
            { ...row, anglesDeg: layout.anglesDeg, rowRunsLeft: rowRunsLeft(map, layout.gapsM) },
            { ...o, units },
          ),
      ),
      gapSpreads(row).some((spread) => spread.n > 1)
        ? element("div", { class: "pair" }, offsets(400), spread(266))
        : offsets(),
      chart(
        "gap-overlay",
        "All gaps laid over one another",
        "Hind feet only, in the direction of travel. Gap follows gap downwards: a slant is creep.",
        (o) =>
          drawGapOverlay(
            { ...row, meanFraction: judgement.meanFraction, scatter: judgement.scatter },
            { ...o, units },
          ),
      ),
      chart("stances", "When each foot stood", "Each bar is one stance, from touch-down to lift-off.", (o) =>
        drawStances(row, { ...o, units }),
      ),
    ],
  );
}

/** A drawing for wide pages and print, and one for phones; the style sheet shows one of them. */
function both(id: string, draw: (size: Size) => string, wide = WIDE): Markup {
  return together(
    element("div", { class: "wide" }, new Markup(draw({ width: wide, id: `${id}-wide` }))),
    element("div", { class: "narrow" }, new Markup(draw({ width: NARROW, id: `${id}-narrow` }))),
  );
}

function framesSection({ frames }: ReportInput): Markup | null {
  const safe = frames?.filter((frame) => pictureUrl(frame.dataUrl)) ?? [];
  if (safe.length === 0) return null;
  return element(
    "section",
    {},
    element("h2", {}, "From the film"),
    element(
      "div",
      { class: "frames" },
      safe.map(({ dataUrl, caption }) =>
        element(
          "figure",
          {},
          element("img", { src: dataUrl, alt: caption }),
          element("figcaption", {}, caption),
        ),
      ),
    ),
  );
}

function landingsSection({ judgement, units }: ReportInput): Markup {
  const landings = judgement.passes.flatMap((pass) => pass.landings);
  const byHand = landings.filter((landing) => landing.source === "hand").length;
  const doubtful = landings.filter(isDoubtful).length;
  const counts = [
    countText(landings.length, "landing"),
    `${landings.length - byHand} found automatically`,
    `${byHand} placed by hand`,
    `${doubtful} doubtful`,
  ].join(", ");
  return element(
    "section",
    {},
    element(
      "div",
      { class: "before" },
      element("h2", {}, "All landings"),
      element(
        "p",
        { class: "small soft" },
        `${counts}. Offsets and places count along the row, away from the first pole; 50 % is the middle of the gap. Touch-down and lift-off in seconds of the film. "Sure" tells how likely an automatic landing is, "?" a doubtful one; "by hand" was placed by a person.`,
      ),
    ),
    landingTables(judgement, units),
  );
}

function cautionSection({ cautions }: ReportInput): Markup {
  const said = [...new Set([...cautions, ...generalCautions])];
  return element(
    "section",
    { class: "caution" },
    element("h2", {}, "Take care"),
    element(
      "ul",
      {},
      said.map((sentence) => element("li", {}, sentence)),
    ),
  );
}

function limitsSection({ units }: ReportInput): Markup {
  const list = (sentences: readonly string[]) =>
    element(
      "ul",
      { class: "small" },
      sentences.map((sentence) => element("li", {}, sentence)),
    );
  return element(
    "section",
    {},
    element("h2", {}, "What a phone can't see"),
    list(BEYOND_A_PHONE),
    element("h2", {}, "When the program says what"),
    element(
      "p",
      { class: "small soft" },
      "No study gives a proven rule for pole spacing. These limits are choices of this program.",
    ),
    list(thresholdLines(units)),
  );
}

function methodSection({ analyses, session, units }: ReportInput): Markup {
  return element(
    "section",
    { class: "keep" },
    element("h2", {}, "How it was measured"),
    session && sessionFacts(session),
    analyses.map((analysis) => clipFacts(analysis, units)),
  );
}

function sessionFacts(session: NonNullable<ReportInput["session"]>): Markup {
  return factList([
    session.surface && ["Ground", SURFACE_WORDS[session.surface]],
    session.handlerSide && ["Handler", HANDLER_WORDS[session.handlerSide]],
    session.howDogFelt && ["The dog", FELT_WORDS[session.howDogFelt]],
    typeof session.knocksSeen === "number" && ["Knocks counted by eye", String(session.knocksSeen)],
    session.notes && ["Notes", session.notes],
  ]);
}

function clipFacts(
  { clip, ground, camera, backend, setAside, warnings }: ClipAnalysis,
  units: Units,
): Markup {
  const worst = Math.max(0, ...ground.residuals.map((residual) => Math.abs(residual.alongM)));
  const rate = `${numberText(clip.meanFps, 1)} frames a second${clip.variableRate ? ", uneven" : ""}`;
  return together(
    element("h3", {}, clip.fileName),
    factList([
      [
        "Film",
        `${numberText(clip.durationS, 1)} s, ${clip.widthPx} × ${clip.heightPx}, ${rate}, ${clip.codec}`,
      ],
      [
        "Poles",
        `${countText(ground.residuals.length, "pole")} tapped, largest misfit along the row ${lengthText(worst, units)}`,
      ],
      [
        "Camera",
        camera.kind === "still"
          ? "stood still"
          : `moved by up to ${Math.round(camera.largestShiftPx)} pixels`,
      ],
      backend !== "none" && ["Network ran on", backend],
      setAside.length > 0 && [
        "Left out",
        setAside
          .map(({ startS, endS, reason }) => `${startS.toFixed(1)} to ${endS.toFixed(1)} s: ${reason}`)
          .join(" "),
      ],
      (clip.warnings.length > 0 || warnings.length > 0) && [
        "Look at",
        [...clip.warnings, ...warnings].join(" "),
      ],
    ]),
  );
}

function factList(facts: ([string, string] | false | null | undefined | "")[]): Markup {
  return element(
    "dl",
    { class: "facts" },
    facts
      .filter((fact): fact is [string, string] => Boolean(fact))
      .map(([name, value]) => [element("dt", {}, name), element("dd", {}, value)]),
  );
}

/** True where the row runs to the left in the picture, so that a plan of it can be drawn as the camera saw it. */
function rowRunsLeft(map: GroundMap | null | undefined, gapsM: readonly number[]): boolean {
  if (!map) return false;
  const along = polePlaces(gapsM).at(-1) ?? 1;
  return groundToImage(map, { xM: along, yM: 0 }).x < groundToImage(map, { xM: 0, yM: 0 }).x;
}

/** Only a picture held in the page itself may be shown. */
function pictureUrl(url: string | null | undefined): boolean {
  return typeof url === "string" && /^data:image\/(png|jpeg|webp);base64,[A-Za-z0-9+/=]+$/.test(url);
}

function dayText(ms: number): string {
  return new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "long", year: "numeric" }).format(ms);
}

/** The project's mark: a paw print between two poles. */
function logo(): Markup {
  return element(
    "svg",
    { viewBox: "0 0 64 64", width: 30, height: 30, "aria-hidden": "true" },
    element("rect", { width: 64, height: 64, rx: 14, fill: COLOUR.go }),
    poleMark(13, 10, 54, 7),
    poleMark(51, 10, 54, 7),
    pawPrint(33, 32, 24, COLOUR.sheet),
  );
}
