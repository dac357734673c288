import { type Aim, aims } from "./aims.ts";
import { lengthText, numberText, percentText, roundToTape, tapeText, type Units } from "./lengths.ts";
import type { AimId, PoleGait } from "./types.ts";

/** Where the tape went on a squarely standing dog, metres; null = not measured. */
export interface BodyMeasures {
  shoulderM: number | null;
  withersM: number | null;
  bodyLengthM: number | null;
  elbowM: number | null;
  carpusM: number | null;
  hockM: number | null;
}

/** A dog's own step as it was measured with no poles. */
export interface MeasuredStep {
  stepM: number;
  /** 95 %. */
  intervalM: readonly [number, number];
}

export interface Start {
  /** Null while the measure it needs is missing; the reasons then say which. */
  spacingM: number | null;
  /** Height of the poles' tops; 0 = on the ground. */
  heightM: number;
  /** Highest a pole may lie at this gait, metres; null while the measure is missing. */
  ceilingM: number | null;
  /** How the numbers came about, one sentence each. */
  reasons: string[];
}

/** A walking Labrador's half stride, 0.442 m, against withers of 0.546 to 0.622 m: 0.71 to 0.81, middle 0.76 (Light VA
 * et al. Am J Vet Res 2010;71:997; breed standard). Stands in where the point of the shoulder was not measured. */
const WALK_STEP_OF_WITHERS = 0.76;

/**
 * Where to begin from a dog's body: a start only, to be put right by where the hind feet land.
 * @param shortLegged long body on short legs: the elbow says more than the withers
 * @param ownStep its step at this gait over bare ground, which says more than any body measure; null where not known
 */
export function startingSpacing(
  measures: BodyMeasures,
  gait: PoleGait,
  aimId: AimId,
  { shortLegged = false, units = "cm" as Units, ownStep = null as MeasuredStep | null } = {},
): Start {
  const aim = aims[aimId];
  const step =
    aim.spacing.of === "body-length"
      ? fromBody(measures, aim, units)
      : ownStep !== null
        ? fromOwnStep(ownStep, gait, units)
        : fromHeight(measures, gait, shortLegged, units);
  const reasons = [step.reason];
  let spacingM = step.lengthM;
  if (spacingM !== null && aim.spacing.of === "step" && aim.spacing.start !== 1) {
    spacingM *= aim.spacing.start;
    reasons.push(`${aim.name} begins at ${percentText(aim.spacing.start)} of that.`);
  }
  const height = startingHeight(measures, gait, aim, units);
  reasons.push(...height.reasons);
  if (spacingM !== null) {
    spacingM = roundToTape(spacingM, units);
    reasons.push("A start only: film it, look where the hind feet land, and move by small amounts.");
  }
  return { spacingM, heightM: height.heightM, ceilingM: poleCeiling(measures, gait), reasons };
}

/** Never above the hock at the trot, nor above the elbow at the walk: metres, or null where not measured. */
export function poleCeiling(measures: BodyMeasures, gait: PoleGait): number | null {
  return gait === "trot" ? measures.hockM : measures.elbowM;
}

interface Reasoned {
  lengthM: number | null;
  reason: string;
}

function fromBody({ bodyLengthM }: BodyMeasures, aim: Aim, units: Units): Reasoned {
  if (bodyLengthM === null) {
    return {
      lengthM: null,
      reason: "Measure the dog from nose to tail base: this aim's spacing comes from it.",
    };
  }
  return {
    lengthM: aim.spacing.start * bodyLengthM,
    reason: `${aim.spacing.start} × nose to tail base (${tapeText(bodyLengthM, units)}), so that each pole is a task of its own.`,
  };
}

function fromOwnStep({ stepM, intervalM }: MeasuredStep, gait: PoleGait, units: Units): Reasoned {
  const [low, high] = intervalM;
  return {
    lengthM: stepM,
    reason: `Its own step at a ${gait}, measured over bare ground: ${lengthText(stepM, units)} (95 % interval ${numberText(low, units)} to ${lengthText(high, units)}).`,
  };
}

function fromHeight(m: BodyMeasures, gait: PoleGait, shortLegged: boolean, units: Units): Reasoned {
  if (gait === "walk") {
    if (m.shoulderM !== null) {
      return {
        lengthM: m.shoulderM,
        reason: `Walk: floor to point of shoulder, ${tapeText(m.shoulderM, units)}.`,
      };
    }
    if (m.withersM !== null) {
      return {
        lengthM: WALK_STEP_OF_WITHERS * m.withersM,
        reason: `Walk: about three quarters of the withers (${tapeText(m.withersM, units)}), as the point of the shoulder was not measured.`,
      };
    }
    return {
      lengthM: null,
      reason: "Measure from the floor to the point of the shoulder: the walking start comes from it.",
    };
  }
  if (shortLegged && m.elbowM !== null) {
    return {
      lengthM: 2 * m.elbowM,
      reason: `Trot on short legs: twice the height of the elbow (${tapeText(m.elbowM, units)}).`,
    };
  }
  if (m.withersM !== null) {
    return {
      lengthM: m.withersM,
      reason: `Trot: floor to withers, ${tapeText(m.withersM, units)}, or a little less.`,
    };
  }
  return {
    lengthM: null,
    reason: `Measure from the floor to the ${shortLegged ? "elbow" : "withers"}: the trotting start comes from it.`,
  };
}

function startingHeight(
  m: BodyMeasures,
  gait: PoleGait,
  aim: Aim,
  units: Units,
): { heightM: number; reasons: string[] } {
  if (aim.height.start === null) return { heightM: 0, reasons: [`Poles: ${lower(aim.height.rule)}`] };
  if (m.carpusM === null) {
    return {
      heightM: 0,
      reasons: [
        "Measure from the floor to the carpus to raise the poles; until then leave them on the ground.",
      ],
    };
  }
  const wanted = roundToTape(aim.height.start.share * m.carpusM, units);
  const ceiling = poleCeiling(m, gait);
  const landmark = gait === "trot" ? "hock" : "elbow";
  if (ceiling !== null && wanted > ceiling) {
    return {
      heightM: roundToTape(ceiling, units),
      reasons: [`Poles no higher than the ${landmark}, ${tapeText(ceiling, units)}.`],
    };
  }
  const share = aim.height.start.share === 1 ? "the height of the carpus" : "half the height of the carpus";
  return {
    heightM: wanted,
    reasons: [`Poles at ${share}, ${tapeText(wanted, units)}; never above the ${landmark}.`],
  };
}

function lower(sentence: string): string {
  return sentence.charAt(0).toLowerCase() + sentence.slice(1);
}
