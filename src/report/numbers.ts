import {
  lengthText,
  numberText,
  percentText,
  rangeText,
  signedLengthText,
  spacingText,
  type Units,
} from "../charts/lengths.ts";
import { element, type Markup } from "../charts/svg.ts";
import { countText, evenGap } from "../charts/travel.ts";
import type { Judgement, Layout } from "../spacing/types.ts";

interface NumberLine {
  name: string;
  value: string;
  interval: string;
  from: string;
}

/** What was measured over all passes that count, each with its interval and what it rests on. */
export function numbersTable(judgement: Judgement, layout: Layout, units: Units): Markup {
  const lines = [
    ...spacingLines(judgement, layout, units),
    ...stepLines(judgement, units),
    ...placeLines(judgement, layout, units),
    ...otherLines(judgement),
  ];
  return element(
    "table",
    { class: "numbers" },
    element(
      "thead",
      {},
      element(
        "tr",
        {},
        element("th", { scope: "col" }, "Measured"),
        element("th", { scope: "col", class: "n" }, "Value"),
        element("th", { scope: "col", class: "n" }, "95 % interval"),
        element("th", { scope: "col", class: "n" }, "From"),
      ),
    ),
    element(
      "tbody",
      {},
      lines.map((line) =>
        element(
          "tr",
          {},
          element("td", {}, line.name),
          element("td", { class: "n value" }, line.value),
          element("td", { class: "n" }, line.interval),
          element("td", { class: "n" }, line.from),
        ),
      ),
    ),
  );
}

function spacingLines({ verdict }: Judgement, layout: Layout, units: Units): NumberLine[] {
  const even = evenGap(layout.gapsM);
  const fit = verdict.fitSpacingM;
  const gaps = layout.gapsM.map((gap) => spacingText(gap, units)).join(", ");
  return [
    {
      name: `Spacing on the ground, ${countText(layout.gapsM.length, "gap")}`,
      value: even === null ? gaps : spacingText(even, units),
      interval: "",
      from: "as laid",
    },
    ...(verdict.intervalM === null
      ? []
      : [
          {
            name: "Spacing that would fit",
            value: fit === null || fit === undefined ? "" : lengthText(fit, units),
            interval: rangeText(verdict.intervalM, units),
            from: "",
          },
        ]),
  ];
}

function stepLines(judgement: Judgement, units: Units): NumberLine[] {
  const { stepM, creepMPerGap, ownStep } = judgement;
  return [
    stepM && {
      name: "Hind step in the row",
      value: lengthText(stepM.value, units),
      interval: rangeText(stepM.interval, units),
      from: countText(stepM.n, "step"),
    },
    creepMPerGap && {
      name: "Creep from gap to gap (+ onward)",
      value: signedLengthText(creepMPerGap.value, units),
      interval: rangeText(creepMPerGap.interval, units),
      from: countText(creepMPerGap.n, "landing"),
    },
    ownStep && {
      name: "Stretch against its step before the row",
      value: `${numberText(ownStep.stretchPercent.value, 1)} %`,
      interval: percentRange(ownStep.stretchPercent.interval),
      from: countText(ownStep.approachStepM.n, "approach step"),
    },
  ].filter((line): line is NumberLine => Boolean(line));
}

function placeLines({ meanFraction, scatter }: Judgement, layout: Layout, units: Units): NumberLine[] {
  const even = evenGap(layout.gapsM);
  const inGap = (share: number) => (even === null ? "" : ` (${lengthText(share * even, units)})`);
  return [
    meanFraction !== null && {
      name: "Place in the gap (0 % = pole passed)",
      value: percentText(meanFraction) + inGap(meanFraction),
      interval: "",
      from: "",
    },
    scatter !== null && {
      name: "Scatter of the place (standard deviation)",
      value: percentText(scatter, 1) + inGap(scatter),
      interval: "",
      from: "",
    },
  ].filter((line): line is NumberLine => Boolean(line));
}

function otherLines({ leftRight, speedMps }: Judgement): NumberLine[] {
  return [
    leftRight && {
      name: "Left against right step",
      value: `${numberText(leftRight.differencePercent.value, 1)} %`,
      interval: percentRange(leftRight.differencePercent.interval),
      from: countText(leftRight.differencePercent.n, "step"),
    },
    speedMps && {
      name: "Speed",
      value: `${speedMps.value.toFixed(2)} m/s`,
      interval: `${speedMps.interval[0].toFixed(2)} to ${speedMps.interval[1].toFixed(2)} m/s`,
      from: countText(speedMps.n, "pass", "passes"),
    },
  ].filter((line): line is NumberLine => Boolean(line));
}

function percentRange([low, high]: [number, number]): string {
  return `${percentText(low / 100, 1).replace(" %", "")} to ${percentText(high / 100, 1)}`;
}
