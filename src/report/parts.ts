import type { DrawingOptions } from "../charts/frame.ts";
import { lengthText, rangeText, spacingText, type Units } from "../charts/lengths.ts";
import { pawPrint, poleMark } from "../charts/marks.ts";
import { COLOUR } from "../charts/palette.ts";
import { element, Markup, together } from "../charts/svg.ts";
import { drawVerdictPicture } from "../charts/verdict-picture.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import { aims } from "../spacing/aims.ts";
import { generalCautions } from "../spacing/cautions.ts";
import { tapeText } from "../spacing/lengths.ts";
import type { Judgement, Layout, VerdictKind } from "../spacing/types.ts";
import type { Dog, Session } from "../store/types.ts";
import { PROGRAM } from "./program.ts";
import { REPORT_STYLE } from "./style.ts";
import { FELT_WORDS, GAIT_WORDS, HANDLER_WORDS, SURFACE_WORDS } from "./words.ts";

// What the reports have in common: their head, their frame, the cautions, and the numbers to act on.

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

/** What a report on a row of poles asks. */
export const QUESTION = "do the poles fit its stride?";

/** What the head of a report needs to know. */
export type ReportHead = Pick<ReportInput, "dog" | "session" | "practitioner">;

/** Widths the drawings are made for: a printed page or desk, and a phone. */
export const WIDE = 690;
const NARROW = 350;

export type Size = Pick<DrawingOptions, "width" | "id">;

/** A whole page from its body. */
export function wholePage(title: string, body: Markup, look: "one-page" | null = null): string {
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
    element("body", { class: look }, body),
  );
  return `<!doctype html>\n${page.text}\n`;
}

export function footer(): Markup {
  return element("footer", {}, `Made by ${PROGRAM} on this device. The film did not leave it.`);
}

/** Whose report it is, of which dog and day, and by whom. */
export function head({ dog, session, practitioner }: ReportHead, question: string, what: string): Markup {
  const subject = [
    session?.date !== undefined && dayText(session.date),
    session?.gait && GAIT_WORDS[session.gait],
    session?.aim && `aim: ${aims[session.aim].name}`,
    what,
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
      dog?.name ? `${dog.name}: ${question}` : question.charAt(0).toUpperCase() + question.slice(1),
    ),
    element("p", { class: "subject" }, subject.join(" · ")),
  );
}

/** The verdict with its numbers and its evidence, and its picture. */
export function verdictBox({
  judgement,
  layout,
  units,
}: Pick<ReportInput, "judgement" | "layout" | "units">): Markup {
  const { verdict } = judgement;
  return together(
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
  );
}

export function nextSection(nextTime: string): Markup {
  return element("div", { class: "next" }, element("strong", {}, "Next time: "), nextTime);
}

/** How a verdict's box is coloured. */
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

/** A drawing for wide pages and print, and one for phones; the style sheet shows one of them. */
export function both(id: string, draw: (size: Size) => string, wide = WIDE): Markup {
  return together(
    element("div", { class: "wide" }, new Markup(draw({ width: wide, id: `${id}-wide` }))),
    element("div", { class: "narrow" }, new Markup(draw({ width: NARROW, id: `${id}-narrow` }))),
  );
}

export function cautionSection({ cautions }: Pick<ReportInput, "cautions">): Markup {
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

/** What was written down about a session. */
export function sessionFacts(session: NonNullable<ReportInput["session"]>): Markup {
  return factList(writtenFacts(session));
}

export function writtenFacts(session: NonNullable<ReportInput["session"]>): Fact[] {
  return [
    session.surface && ["Ground", SURFACE_WORDS[session.surface]],
    session.handlerSide && ["Handler", HANDLER_WORDS[session.handlerSide]],
    session.howDogFelt && ["The dog", FELT_WORDS[session.howDogFelt]],
    typeof session.knocksSeen === "number" && ["Knocks counted by eye", String(session.knocksSeen)],
    session.notes && ["Notes", session.notes],
  ];
}

type Fact = [string, string] | false | null | undefined | "";

export function factList(facts: Fact[]): Markup {
  return element(
    "dl",
    { class: "facts" },
    facts
      .filter((fact): fact is [string, string] => Boolean(fact))
      .map(([name, value]) => [element("dt", {}, name), element("dd", {}, value)]),
  );
}

/** Only a picture held in the page itself may be shown. */
export function pictureUrl(url: string | null | undefined): boolean {
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
