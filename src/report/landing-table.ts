import {
  lengthText,
  marginText,
  numberText,
  percentText,
  shown,
  signedText,
  type Units,
} from "../charts/lengths.ts";
import { isDoubtful, PAW_LOOKS, pawMark } from "../charts/marks.ts";
import { element, type Markup } from "../charts/svg.ts";
import { countText } from "../charts/travel.ts";
import type { Judgement, PassJudgement, PlacedLanding } from "../spacing/types.ts";

const HEADS = (units: Units): [string, boolean][] => [
  ["Foot", false],
  ["Gap", true],
  [`Offset, ${units}`, true],
  ["Place, %", true],
  ["Down", true],
  ["Up", true],
  ["Sure", true],
];

/** Every landing, a table a pass. Offsets count along the row, away from the first pole. */
export function landingTables({ passes }: Judgement, units: Units): Markup {
  return element(
    "div",
    { class: "passes" },
    passes.map((pass, i) => passTable(pass, i, units)),
  );
}

function passTable(pass: PassJudgement, index: number, units: Units): Markup {
  const facts = [
    pass.direction === 1 ? "towards the last pole" : "towards the first pole",
    `${pass.speedMps.toFixed(2)} m/s`,
    pass.stepM && `hind step ${lengthText(pass.stepM.value, units)}`,
    pass.knocks.length > 0 &&
      `${countText(pass.knocks.length, "knock")} (pole ${pass.knocks.map((pole) => pole + 1).join(", ")})`,
    !pass.used && `not counted: ${pass.setAside ?? "set aside"}`,
    pass.used && pass.keptDespite && `kept in by hand, despite: ${pass.keptDespite}`,
  ].filter(Boolean);
  return element(
    "table",
    { class: "landings" },
    element("caption", {}, `Pass ${index + 1}`, element("span", {}, facts.join(" · "))),
    element(
      "thead",
      {},
      element(
        "tr",
        {},
        HEADS(units).map(([name, right]) => element("th", { scope: "col", class: right ? "n" : null }, name)),
      ),
    ),
    element(
      "tbody",
      {},
      [...pass.landings].sort((a, b) => a.onS - b.onS).map((landing) => landingRow(landing, units)),
    ),
  );
}

function landingRow(landing: PlacedLanding, units: Units): Markup {
  const doubtful = isDoubtful(landing);
  const { gap, offsetM, gapFraction } = landing;
  const cells = [
    gap === null ? (landing.place === "approach" ? "before" : "after") : String(gap + 1),
    offsetM === null
      ? ""
      : `${signedText(shown(offsetM, units), 1)} ${marginText(landing.xSeM, units)}`.trim(),
    gapFraction === null ? "" : numberText(gapFraction * 100, 0),
    numberText(landing.onS, 3),
    numberText(landing.offS, 3),
    landing.source === "hand" ? "by hand" : `${percentText(landing.probability)}${doubtful ? " ?" : ""}`,
  ];
  return element(
    "tr",
    { class: doubtful ? "doubt" : null },
    element("td", { class: "foot" }, footSign(landing), PAW_LOOKS[landing.paw].name),
    cells.map((cell) => element("td", { class: "n" }, cell)),
  );
}

function footSign(landing: PlacedLanding): Markup {
  return element(
    "svg",
    { viewBox: "0 0 14 14", width: 14, height: 14, "aria-hidden": "true" },
    pawMark({
      paw: landing.paw,
      x: 7,
      y: 7,
      radius: 5.5,
      doubtful: isDoubtful(landing),
      byHand: landing.source === "hand",
    }),
  );
}
