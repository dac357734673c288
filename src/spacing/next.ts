import { aims } from "./aims.ts";
import { limitedMove, percentText, roundToTape, tapeText, type Units } from "./lengths.ts";
import { type BodyMeasures, poleCeiling } from "./start.ts";
import type { AimId, Judgement, Layout, PoleGait } from "./types.ts";

export interface NextLayout {
  layout: Layout;
  /** What changes and why, one sentence each. */
  reasons: string[];
}

/** Poles are raised by this much at a time, metres (common practice, no source). */
const RAISE_M = 0.02;

/**
 * The row to lay next: put right where it does not fit, one rung further towards the aim where it does, left alone where
 * nothing could be told. Heights and angles stay unless the aim asks for more height.
 * @param options.ownStepM the dog's step over bare ground, where it was measured: what the aim's shares are shares of.
 * Without it the step on the way in stands for it, and without that the one over the poles.
 * @param options.hold why a row that fits is not to be made harder all the same: what was seen and no film shows
 */
export function nextLayout(
  judgement: Judgement,
  layout: Layout,
  aimId: AimId,
  options: {
    gait: PoleGait;
    measures?: BodyMeasures | undefined;
    units?: Units | undefined;
    ownStepM?: number | undefined;
    hold?: string | undefined;
  },
): NextLayout {
  const units = options.units ?? "cm";
  const { verdict } = judgement;
  const now = meanOf(layout.gapsM);
  switch (verdict.kind) {
    case "too-close":
    case "too-far":
    case "two-steps":
    case "stepped-over":
      if (verdict.spacingM === null) return { layout, reasons: ["Leave the row as it is."] };
      return scaled(layout, verdict.spacingM / now, units, [
        `From ${tapeText(now, units)} to ${tapeText(verdict.spacingM, units)}: ${verdict.kind === "too-close" || verdict.kind === "stepped-over" ? "poles were too close" : "poles were too far apart"}.`,
      ]);
    case "fits-move-start":
      return { layout, reasons: ["Same row; only the start point moves."] };
    case "not-steady":
    case "cannot-tell":
      return { layout, reasons: ["Same row, until it can be read."] };
    case "fits":
      return onwards(judgement, layout, aimId, { ...options, units });
  }
}

/** Rungs from where an aim begins to where it leads, for a dog with this step; one rung where the aim stays put. */
export function ladder(
  stepM: number,
  aimId: AimId,
  units: Units = "cm",
): { spacingM: number; share: number }[] {
  const { spacing, rung } = aims[aimId];
  if (spacing.of !== "step") return [];
  const way = spacing.goal - spacing.start;
  const rungs = rung === 0 ? 0 : Math.round(Math.abs(way) / rung);
  const shares = Array.from(
    { length: rungs + 1 },
    (_, i) => spacing.start + (rungs === 0 ? 0 : (way * i) / rungs),
  );
  return shares.map((share) => ({ spacingM: roundToTape(share * stepM, units), share }));
}

function onwards(
  judgement: Judgement,
  layout: Layout,
  aimId: AimId,
  {
    gait,
    measures,
    units,
    ownStepM,
    hold,
  }: {
    gait: PoleGait;
    measures?: BodyMeasures | undefined;
    units: Units;
    ownStepM?: number | undefined;
    hold?: string | undefined;
  },
): NextLayout {
  const aim = aims[aimId];
  if (hold !== undefined) return { layout, reasons: [hold] };
  if (judgement.passes.some((p) => p.used && p.knocks.length > 0)) {
    return { layout, reasons: ["Same row until three passes in a row are free of knocks."] };
  }
  if (aim.rows === "uneven") return oneGapChanged(layout, aim.rung, units);
  const raised = aimId === "higher-lift" ? raisedPoles(layout, gait, measures, units) : null;
  if (raised !== null) return raised;
  const ownStep = ownStepM ?? judgement.ownStep?.approachStepM.value ?? judgement.stepM?.value;
  if (aim.spacing.of !== "step" || aim.spacing.goal === aim.spacing.start || ownStep === undefined) {
    return { layout, reasons: [aim.lookFor] };
  }
  const now = meanOf(layout.gapsM);
  const wider = aim.spacing.goal > aim.spacing.start;
  const goal = aim.spacing.goal * ownStep;
  if (wider ? now >= goal - 0.005 : now <= goal + 0.005) {
    return {
      layout,
      reasons: [`${percentText(now / ownStep)} of its own step: the goal of this aim is reached.`],
    };
  }
  const wanted = wider ? Math.min(goal, now + aim.rung * ownStep) : Math.max(goal, now - aim.rung * ownStep);
  const { spacingM } = limitedMove(now, wanted, units);
  return scaled(layout, spacingM / now, units, [
    `It fits: on to ${tapeText(spacingM, units)}, ${percentText(spacingM / ownStep)} of its own step (${tapeText(ownStep, units)}).`,
    aim.lookFor,
  ]);
}

function scaled(layout: Layout, factor: number, units: Units, reasons: string[]): NextLayout {
  return {
    layout: { ...layout, gapsM: layout.gapsM.map((gap) => roundToTape(gap * factor, units)) },
    reasons,
  };
}

/** Uneven rows change by one gap at a time, wider and closer in turn. */
function oneGapChanged(layout: Layout, share: number, units: Units): NextLayout {
  const base = [...layout.gapsM].sort((a, b) => a - b)[Math.floor(layout.gapsM.length / 2)]!;
  const next = layout.gapsM.findIndex((gap) => Math.abs(gap - base) < 0.005);
  const before = layout.gapsM.filter((gap) => Math.abs(gap - base) >= 0.005).length;
  // Half of the gaps stay, or there is no usual gap left to differ from.
  if (before >= Math.floor(layout.gapsM.length / 2)) {
    return { layout, reasons: ["Half of the gaps differ already: change heights or angles next."] };
  }
  const { spacingM } = limitedMove(base, base * (before % 2 === 0 ? 1 + share : 1 - share), units);
  return {
    layout: { ...layout, gapsM: layout.gapsM.map((gap, g) => (g === next ? spacingM : gap)) },
    reasons: [`Gap ${next + 1} becomes ${tapeText(spacingM, units)}; the others stay.`],
  };
}

/** The height goal of "higher lift" comes before closer poles; null once it is reached or cannot be known. */
function raisedPoles(
  layout: Layout,
  gait: PoleGait,
  measures: BodyMeasures | undefined,
  units: Units,
): NextLayout | null {
  if (!measures || measures.carpusM === null || measures.elbowM === null) return null;
  const ceiling = poleCeiling(measures, gait);
  if (ceiling === null) return null;
  const goal = Math.min(ceiling, (measures.carpusM + measures.elbowM) / 2);
  const now = Math.max(0, ...layout.heightsM);
  const heightM = Math.min(goal, now + RAISE_M);
  if (heightM - now < 0.005) return null;
  const laid = Math.min(roundToTape(heightM, units), ceiling);
  return {
    layout: { ...layout, heightsM: Array.from({ length: layout.gapsM.length + 1 }, () => laid) },
    reasons: [`It fits: raise the poles to ${tapeText(laid, units)}; lower them again if it hops or knocks.`],
  };
}

function meanOf(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0) / values.length;
}
