import { element, type Markup, together } from "../charts/svg.ts";
import { countText } from "../charts/travel.ts";
import { numbersTable } from "./numbers.ts";
import {
  cautionSection,
  footer,
  head,
  nextSection,
  QUESTION,
  type ReportInput,
  verdictBox,
  wholePage,
  writtenFacts,
} from "./parts.ts";
import { STEP_AND_STRIDE } from "./words.ts";

/** More words of notes, or of what was written down, do not fit on one sheet; the report with every landing has all. */
const MOST_NOTE_LETTERS = 280;
const MOST_WRITTEN_LETTERS = 160;

/**
 * The report on one sheet, A4 or Letter, for an owner or a veterinarian: the verdict, one picture, the numbers with
 * their intervals, what to do next, and the cautions.
 */
export function renderOnePage(input: ReportInput): string {
  const title = ["Pole spacing report", input.dog?.name].filter(Boolean).join(": ");
  const body = together(
    head(input, QUESTION, countText(input.layout.gapsM.length + 1, "pole")),
    element(
      "main",
      {},
      element("section", {}, verdictBox(input), nextSection(input.judgement.verdict.nextTime)),
      element("div", { class: "beside" }, numbersSection(input), wordsSection(input)),
      cautionSection(input),
    ),
    footer(),
  );
  return wholePage(title, body, "one-page");
}

function numbersSection({ judgement, layout, units }: ReportInput): Markup {
  return element("section", {}, element("h2", {}, "The numbers"), numbersTable(judgement, layout, units));
}

function wordsSection({ judgement, session }: ReportInput): Markup {
  const shown = firstThatFit(judgement.notes, MOST_NOTE_LETTERS);
  const more = judgement.notes.length - shown.length;
  const written = session ? writtenLine(session) : "";
  return element(
    "section",
    {},
    element("h2", {}, "To know"),
    element(
      "div",
      { class: "small" },
      shown.length > 0 &&
        element(
          "ul",
          {},
          shown.map((note) => element("li", {}, note)),
          more > 0 && element("li", {}, `${countText(more, "note")} more in the report with every landing.`),
        ),
      written !== "" && element("p", {}, written),
      judgement.ownStep && element("p", {}, judgement.ownStep.sentence),
      judgement.leftRight && element("p", {}, judgement.leftRight.sentence),
      element("p", { class: "soft" }, STEP_AND_STRIDE),
    ),
  );
}

/** The first texts that together have no more letters than that; the first one always. */
function firstThatFit(texts: readonly string[], letters: number): string[] {
  let sum = 0;
  const fit = texts.findIndex((text, i) => {
    sum += text.length;
    return i > 0 && sum > letters;
  });
  return fit < 0 ? [...texts] : texts.slice(0, fit);
}

/** What was written down, in one paragraph. */
export function writtenLine(session: NonNullable<ReportInput["session"]>): string {
  const whole = writtenFacts(session)
    .filter((fact): fact is [string, string] => Array.isArray(fact))
    .map(([name, value]) => `${name}: ${value.trim().replace(/\s+/g, " ")}`)
    .join(" · ");
  return whole.length <= MOST_WRITTEN_LETTERS ? whole : `${whole.slice(0, MOST_WRITTEN_LETTERS).trimEnd()} …`;
}
