import { aims } from "./aims.ts";
import { lengthText, numberText, percentText, tapeText, type Units } from "./lengths.ts";
import { thresholds } from "./thresholds.ts";
import type { Judgement, JudgeRequest, Verdict } from "./types.ts";

/** Why nothing is read, or why it is not steady. */
type Why =
  | "few-landings"
  | "wide-interval"
  | "ambiguous"
  | "readings-apart"
  | "steps-vary"
  | "passes-differ"
  | "passes-set-aside";

/** The verdict's numbers, before they are put into words. */
export interface Findings {
  kind: Verdict["kind"];
  why: Why | null;
  request: JudgeRequest;
  judgement: Omit<Judgement, "verdict" | "notes">;
  units: Units;
  perGap: 1 | 2;
  currentSpacingM: number;
  spacingM: number | null;
  fitSpacingM: number | null;
  intervalM: [number, number] | null;
  moveStartM: number | null;
  confidence: number;
  /** True where the fitting spacing is farther off than may be moved at once. */
  limited: boolean;
  /** (step − slot)/step. */
  mismatch: number | null;
  stepCv: number | null;
  /** Mean place past (+) or short of (−) the target, metres along travel. */
  placeM: number | null;
  /** Hind landings in the row that count, and the passes they come from. */
  landings: number;
  passes: number;
  morePasses: number | null;
}

export function wordVerdict(f: Findings): Pick<Verdict, "sentence" | "evidence" | "nextTime"> {
  return { sentence: sentenceOf(f), evidence: evidenceOf(f), nextTime: nextTimeOf(f) };
}

function sentenceOf(f: Findings): string {
  switch (f.kind) {
    case "fits":
      return f.perGap === 2
        ? "The spacing fits: there is room for all four feet in every gap."
        : `The spacing fits: one hind landing in every gap, near the same place each time.`;
    case "fits-move-start":
      return startSentence(f);
    case "too-close":
      return f.perGap === 2
        ? `Poles are too close: a whole stride is ${tapeText(strideOf(f), f.units)}, longer than the ${tapeText(f.currentSpacingM, f.units)} gap, so some gaps get only one hind foot.`
        : `Poles are about ${amountText(f)} too close: hind landings creep ${creepText(f)} per gap towards the next pole.`;
    case "too-far":
      return f.perGap === 2
        ? `Poles are too far apart: there is room for ${perGapText(f)} hind landings in a gap.`
        : `Poles are about ${amountText(f)} too far apart: hind landings drop back ${creepText(f)} per gap.`;
    case "two-steps":
      return `Two steps in a gap: the dog sets its hind feet down ${perGapText(f)} times per gap, so the poles are too far apart to reach.`;
    case "stepped-over":
      return `Gaps are stepped over: one hind step spans ${(1 / (1 - f.mismatch!)).toFixed(1)} gaps, so the poles are too close.`;
    case "not-steady":
      return `Not steady yet, so no spacing can be read: ${unsteadyReason(f)}.`;
    case "cannot-tell":
      return cannotTellSentence(f);
  }
}

function startSentence(f: Findings): string {
  const target = f.request.layout.targetFractions.every((t) => Math.abs(t - 0.5) < 0.01)
    ? "the middle of the gaps"
    : "their targets";
  const move = tapeText(Math.abs(f.moveStartM!), f.units);
  const way = f.moveStartM! > 0 ? "farther from" : "nearer to";
  const place = f.placeM! > 0 ? "past" : "short of";
  return `The spacing fits, but set off ${move} ${way} the first pole: hind landings sit ${lengthText(Math.abs(f.placeM!), f.units, 0)} ${place} ${target}.`;
}

function unsteadyReason(f: Findings): string {
  if (f.why === "passes-set-aside") return "no pass was made at one steady speed and gait";
  if (f.why === "passes-differ") return "the hind step changes from pass to pass";
  return `hind steps differ from one another by ${percentText(f.stepCv ?? 0)}`;
}

function cannotTellSentence(f: Findings): string {
  if (f.why === "few-landings") {
    return `Can't tell yet: ${f.landings} hind landings between the poles are too few; a verdict needs ${thresholds.fewestHindLandings} or more.`;
  }
  if (f.why === "ambiguous") {
    return "Can't tell yet: either gaps are stepped over or hind landings were missed. Check the landings by hand.";
  }
  if (f.why === "readings-apart") {
    return "Can't tell yet: the landings tell no clear story; two ways of reading the step disagree. Check the landings by hand.";
  }
  return f.morePasses === null
    ? "Can't tell yet: the landings lie between two verdicts and more passes like these would hardly settle it."
    : `Can't tell yet: film about ${f.morePasses} more ${f.morePasses === 1 ? "pass" : "passes"} at the same speed.`;
}

function evidenceOf(f: Findings): string {
  const { creepMPerGap, scatter } = f.judgement;
  const basis = `${f.landings} hind landings in ${passesText(f.passes)}`;
  if (creepMPerGap === null || f.mismatch === null) return `${basis} between the poles.`;
  if (f.perGap === 2) {
    return `The whole stride is ${lengthText(strideOf(f), f.units)} against ${lengthText(f.currentSpacingM, f.units)} between poles (${basis}).`;
  }
  if (f.kind === "two-steps" || f.kind === "stepped-over") {
    return `The hind step is ${lengthText(f.judgement.stepM!.value, f.units)} against ${lengthText(f.currentSpacingM, f.units)} between poles (${basis}).`;
  }
  const [low, high] = creepMPerGap.interval;
  const spread = scatter === null ? "" : `, and scatter by ${percentText(scatter)} of a gap`;
  const step = lengthText(f.judgement.stepM!.value, f.units);
  return `The hind step is ${step} against ${lengthText(f.currentSpacingM, f.units)} between poles: landings shift ${lengthText(creepMPerGap.value, f.units)} per gap (95 % interval ${numberText(low, f.units)} to ${lengthText(high, f.units)})${spread}; ${basis}.`;
}

function nextTimeOf(f: Findings): string {
  const aim = aims[f.request.aim];
  switch (f.kind) {
    case "fits":
      return aim.lookFor;
    case "fits-move-start":
      return "Leave the poles as they are and begin from the new start point each time.";
    case "too-close":
    case "too-far":
    case "two-steps":
    case "stepped-over":
      return moveText(f);
    case "not-steady":
      return "Rest, then film again at one steady speed with the lead slack; if it stays uneven, make the row easier or stop for today.";
    case "cannot-tell":
      return f.why === "ambiguous" || f.why === "readings-apart"
        ? "Add the missing landings on the picture, or film from where both hind feet can be seen."
        : "Keep the poles as they are and film again at one steady speed.";
  }
}

function moveText(f: Findings): string {
  const to = tapeText(f.spacingM!, f.units);
  if (f.limited && f.fitSpacingM !== null) {
    return `Lay the poles ${to} apart and film again: the landings ask for about ${tapeText(f.fitSpacingM, f.units)}, but move a little at a time.`;
  }
  return `Lay the poles ${to} apart and look whether the hind landings now stay at one place in the gaps.`;
}

function amountText(f: Findings): string {
  return tapeText(Math.abs(f.fitSpacingM! - f.currentSpacingM), f.units);
}

function creepText(f: Findings): string {
  return lengthText(Math.abs(f.judgement.creepMPerGap!.value), f.units);
}

function strideOf(f: Findings): number {
  return 2 * f.judgement.stepM!.value;
}

function perGapText(f: Findings): string {
  return (f.perGap * (1 - f.mismatch!)).toFixed(1);
}

function passesText(n: number): string {
  return n === 1 ? "1 pass" : `${n} passes`;
}
