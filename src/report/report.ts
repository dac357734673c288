import { drawFootprints } from "../charts/footprints.ts";
import { drawGapOverlay } from "../charts/gap-overlay.ts";
import { lengthText, numberText, type Units } from "../charts/lengths.ts";
import { isDoubtful } from "../charts/marks.ts";
import { drawOffsets } from "../charts/offsets.ts";
import { drawSpread, gapSpreads } from "../charts/spread.ts";
import { drawStances } from "../charts/stances.ts";
import { element, type Markup, together } from "../charts/svg.ts";
import { countText } from "../charts/travel.ts";
import { groundToImage } from "../ground/map.ts";
import type { GroundMap } from "../ground/types.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import { polePlaces } from "../spacing/travel.ts";
import { landingTables } from "./landing-table.ts";
import { BEYOND_A_PHONE } from "./limits.ts";
import { numbersTable } from "./numbers.ts";
import {
  both,
  cautionSection,
  factList,
  footer,
  head,
  nextSection,
  pictureUrl,
  QUESTION,
  type ReportInput,
  type Size,
  sessionFacts,
  verdictBox,
  WIDE,
  wholePage,
} from "./parts.ts";
import { thresholdLines } from "./thresholds.ts";
import { STEP_AND_STRIDE } from "./words.ts";

/** The report with every landing, as one HTML page that stands alone: no script, nothing fetched, made to be printed. */
export function renderReport(input: ReportInput): string {
  const title = ["Pole spacing report", input.dog?.name].filter(Boolean).join(": ");
  const body = together(
    head(input, QUESTION, countText(input.layout.gapsM.length + 1, "pole")),
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
    footer(),
  );
  return wholePage(title, body);
}

function verdictSection(input: ReportInput): Markup {
  const { notes } = input.judgement;
  return element(
    "section",
    {},
    verdictBox(input),
    nextSection(input.judgement.verdict.nextTime),
    notes.length > 0 &&
      element(
        "ul",
        {},
        notes.map((note) => element("li", {}, note)),
      ),
  );
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

/** True where the row runs to the left in the picture, so that a plan of it can be drawn as the camera saw it. */
function rowRunsLeft(map: GroundMap | null | undefined, gapsM: readonly number[]): boolean {
  if (!map) return false;
  const along = polePlaces(gapsM).at(-1) ?? 1;
  return groundToImage(map, { xM: along, yM: 0 }).x < groundToImage(map, { xM: 0, yM: 0 }).x;
}
