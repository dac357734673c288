import type { Pass } from "../gait/types.ts";
import type { Estimate } from "../stats/types.ts";
import { gateWithDecisions } from "./gating.ts";
import { lengthText, numberText, type Units } from "./lengths.ts";
import { estimateOf, type PooledStep } from "./pooled-step.ts";
import { countedHind, readApproach, type TravelledPass } from "./row-reading.ts";
import { scaleErrorOf, withScaleError } from "./scale-error.ts";
import { readSides } from "./sides.ts";
import { meanSpeed } from "./speed.ts";
import { thresholds } from "./thresholds.ts";
import { travelRow } from "./travel.ts";
import type { Judgement, Layout, PassDecision, PassJudgement, PoleGait } from "./types.ts";

export interface NaturalStepRequest {
  passes: readonly Pass[];
  gait: PoleGait;
  /** Passes kept in or set aside by a person, by pass id. */
  decisions?: Record<string, PassDecision> | undefined;
  /** Standard error of lengths along the way, as a share, by pass id. */
  scaleSe?: Record<string, number> | undefined;
  units?: Units | undefined;
}

/** What passes over bare ground say of a dog: its own step, with nothing to step over. */
export interface NaturalStep {
  /** Hind step, metres; null under three steps. */
  stepM: Estimate | null;
  speedMps: Estimate | null;
  leftRight: Judgement["leftRight"];
  passes: PassJudgement[];
  /** One plain sentence for a person. */
  sentence: string;
  /** The evidence in one plain sentence. */
  evidence: string;
  /** What to do and look for next time. */
  nextTime: string;
}

/** Any row will do: on bare ground only distances along the way count. */
const NOWHERE: Layout = { gapsM: [1], heightsM: [0, 0], targetFractions: [0.5] };
/** A step known to this share is known better than a spacing is changed at once. */
const WELL_KNOWN = 0.025;

/**
 * The dog's step with no poles at all, from passes over bare ground between marks: every counted hind landing is read
 * like a step on the way to a row.
 */
export function readNaturalStep(request: NaturalStepRequest): NaturalStep {
  const { setAside, keptDespite } = gateWithDecisions(request.passes, request.gait, request.decisions);
  const travelled = request.passes.map(
    (pass): TravelledPass => ({
      pass,
      row: travelRow(NOWHERE, pass.direction, 1),
      landings: pass.landings.map((landing) => ({
        passId: pass.id,
        gap: null,
        offsetM: null,
        gapFraction: null,
        place: "approach",
        ...landing,
      })),
    }),
  );
  for (const { pass, landings } of travelled) {
    if (setAside.has(pass.id) || countedHind(landings).length >= 2) continue;
    setAside.set(pass.id, "Fewer than two hind landings were found.");
    keptDespite.delete(pass.id);
  }
  const used = travelled.filter(({ pass }) => !setAside.has(pass.id));
  const pooled = readApproach(used)?.pooled ?? null;
  const scaleSe = scaleErrorOf(
    used.map(({ pass }) => pass.id),
    request.scaleSe,
  );
  const stepM = pooled && estimateOf(withScaleError(pooled.mean, scaleSe));
  const speedMps = meanSpeed(used.map(({ pass }) => pass.speedMps));
  return {
    stepM,
    speedMps,
    leftRight: pooled && readSides(pooled),
    passes: travelled.map(({ pass, landings }): PassJudgement => {
      const at = used.findIndex((one) => one.pass.id === pass.id);
      return {
        passId: pass.id,
        direction: pass.direction,
        used: at >= 0,
        setAside: setAside.get(pass.id) ?? null,
        keptDespite: keptDespite.get(pass.id) ?? null,
        landings,
        stepM: passStep(pooled, at),
        approachStepM: null,
        creepMPerGap: null,
        scatter: null,
        meanFraction: null,
        hindPerGap: [],
        knocks: [],
        speedMps: pass.speedMps,
      };
    }),
    ...worded(request, stepM, speedMps, used),
  };
}

function passStep(pooled: PooledStep | null, at: number): Estimate | null {
  const mean = pooled?.passes[at];
  return mean ? estimateOf(mean) : null;
}

function worded(
  { gait, units = "cm" }: NaturalStepRequest,
  stepM: Estimate | null,
  speedMps: Estimate | null,
  used: readonly TravelledPass[],
): Pick<NaturalStep, "sentence" | "evidence" | "nextTime"> {
  const landings = used.reduce((sum, one) => sum + countedHind(one.landings).length, 0);
  const passes = used.length === 1 ? "1 pass" : `${used.length} passes`;
  if (stepM === null || speedMps === null) {
    return {
      sentence: `No natural step yet: it takes ${thresholds.approachSteps} hind steps over bare ground at one steady speed.`,
      evidence: `${landings} hind landings in ${passes} that count.`,
      nextTime: "Film it again between the two marks, and let it go on well past both.",
    };
  }
  const [low, high] = stepM.interval;
  const oneWay = new Set(used.map(({ pass }) => pass.direction)).size === 1;
  const rough = !(Math.max(high - stepM.value, stepM.value - low) <= WELL_KNOWN * stepM.value);
  return {
    sentence: `Its own step at a ${gait} is ${lengthText(stepM.value, units)}, at ${speedMps.value.toFixed(2)} m/s.`,
    evidence: `95 % interval ${numberText(low, units)} to ${lengthText(high, units)}, from ${stepM.n} hind steps in ${passes} over bare ground.`,
    nextTime: rough
      ? `Film ${oneWay ? "the other way too, and " : ""}a few more passes: the interval is still wider than a change of spacing.`
      : oneWay
        ? "Film the other way too: the side of the lead alone can change a step."
        : "Known well enough to plan with. Measure it again at the same speed when something has changed.",
  };
}
