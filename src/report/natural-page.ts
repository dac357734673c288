import { drawBareSteps } from "../charts/bare-steps.ts";
import { lengthText, rangeText, type Units } from "../charts/lengths.ts";
import { element, type Markup, together } from "../charts/svg.ts";
import { countText } from "../charts/travel.ts";
import type { NaturalStep } from "../spacing/natural-step.ts";
import { writtenLine } from "./one-page.ts";
import { both, cautionSection, footer, head, nextSection, type ReportHead, wholePage } from "./parts.ts";
import { STEP_AND_STRIDE } from "./words.ts";

/** More passes than this, drawn or listed, do not fit on one sheet. */
const MOST_LANES = 6;
const MOST_PASSES = 8;

export interface NaturalPageInput extends ReportHead {
  natural: NaturalStep;
  /** Sentences of caution for this dog; those of every report come after them. */
  cautions: readonly string[];
  units: Units;
}

/** The report on one sheet of a session over bare ground: the dog's own step. */
export function renderNaturalPage(input: NaturalPageInput): string {
  const { natural, session, units } = input;
  const { passes, stepM } = natural;
  const written = session ? writtenLine(session) : "";
  const title = ["Natural step", input.dog?.name].filter(Boolean).join(": ");
  const body = together(
    head(input, "how long is its own step?", "bare ground, no poles"),
    element(
      "main",
      {},
      element(
        "section",
        {},
        element(
          "div",
          { class: `verdict ${stepM ? "" : "open"}`.trim() },
          element("p", { class: "sentence" }, natural.sentence),
          element("p", { class: "evidence" }, natural.evidence),
        ),
        passes.some((pass) => pass.used) &&
          element(
            "div",
            { class: "picture" },
            both("bare-steps", (size) =>
              drawBareSteps(
                { passes, stepM: stepM?.value ?? null, mostLanes: MOST_LANES },
                { ...size, units },
              ),
            ),
          ),
        nextSection(natural.nextTime),
      ),
      written !== "" && element("section", { class: "notes small" }, element("p", {}, written)),
      element(
        "section",
        {},
        element("h2", {}, "Pass by pass"),
        passTable(natural, units),
        element(
          "div",
          { class: "small soft" },
          natural.leftRight && element("p", {}, natural.leftRight.sentence),
          element("p", {}, STEP_AND_STRIDE),
        ),
      ),
      cautionSection(input),
    ),
    footer(),
  );
  return wholePage(title, body, "one-page");
}

function passTable({ passes }: NaturalStep, units: Units): Markup {
  const more = passes.length - MOST_PASSES;
  return together(
    element(
      "table",
      { class: "numbers" },
      element(
        "thead",
        {},
        element(
          "tr",
          {},
          ["Pass", "Step", "95 % interval", "From"].map((name, i) =>
            element("th", { scope: "col", class: i > 0 ? "n" : null }, name),
          ),
        ),
      ),
      element(
        "tbody",
        {},
        passes
          .slice(0, MOST_PASSES)
          .map((pass, i) =>
            element(
              "tr",
              {},
              element("td", {}, passWords(i, pass)),
              element("td", { class: "n value" }, pass.stepM ? lengthText(pass.stepM.value, units) : "–"),
              element("td", { class: "n" }, pass.stepM ? rangeText(pass.stepM.interval, units) : ""),
              element("td", { class: "n" }, pass.stepM ? countText(pass.stepM.n, "step") : ""),
            ),
          ),
      ),
    ),
    more > 0 && element("p", { class: "small soft" }, `${countText(more, "more pass", "more passes")}.`),
  );
}

function passWords(index: number, pass: NaturalStep["passes"][number]): string {
  const way = pass.direction === 1 ? "first mark to last" : "last mark to first";
  const aside = pass.used ? "" : ` · not counted: ${pass.setAside ?? ""}`;
  return `${index + 1}, ${way}, ${pass.speedMps.toFixed(2)} m/s${aside}`;
}
