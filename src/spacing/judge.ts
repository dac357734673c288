import { circularSd, resultant } from "../stats/circular.ts";
import { theilSen } from "../stats/theil-sen.ts";
import { hindPerGap } from "./aims.ts";
import { gateWithDecisions } from "./gating.ts";
import { notesOn } from "./notes.ts";
import { readOwnStep } from "./own-step.ts";
import { checkGaps, knocksPerGap, placeLandings } from "./place.ts";
import { estimateOf } from "./pooled-step.ts";
import {
  countedHind,
  isHind,
  type PassReading,
  type RowReading,
  readApproach,
  readRow,
  type TravelledPass,
} from "./row-reading.ts";
import { scaleErrorOf, withScaleError } from "./scale-error.ts";
import { readSides } from "./sides.ts";
import { meanSpeed } from "./speed.ts";
import { thresholds } from "./thresholds.ts";
import { travelRow } from "./travel.ts";
import type { Judgement, JudgeRequest, PassJudgement } from "./types.ts";
import { reachVerdict } from "./verdict.ts";

/**
 * Everything that can be said of a session: passes over one row, judged together. The result is the one object from
 * which screen, report and JSON are made.
 * @param options.resamples bootstrap resamples behind `verdict.confidence` (400)
 * @throws RangeError when the layout has no gap or a gap that is not positive
 */
export function judge(request: JudgeRequest, options: { resamples?: number } = {}): Judgement {
  checkGaps(request.layout);
  const perGap = hindPerGap(request.aim);
  const travelled: TravelledPass[] = request.passes.map((pass) => ({
    pass,
    row: travelRow(request.layout, pass.direction, perGap),
    landings: placeLandings(pass, request.layout, request.movedM?.[pass.id]),
  }));
  const { setAside, keptDespite } = gateWithDecisions(request.passes, request.gait, request.decisions);
  for (const { pass, landings } of travelled) {
    if (!setAside.has(pass.id) && countedHind(landings).filter((l) => l.place === "row").length < 2) {
      setAside.set(pass.id, "Fewer than two hind landings were found between the poles.");
      keptDespite.delete(pass.id);
    }
  }
  const used = travelled.filter((t) => !setAside.has(t.pass.id));
  const reading = withScale(
    readRow(used),
    scaleErrorOf(
      used.map((t) => t.pass.id),
      request.scaleSe,
    ),
  );
  const approach = readApproach(used);
  const passes = travelled.map((t) =>
    judgePass(
      t,
      { setAside: setAside.get(t.pass.id) ?? null, keptDespite: keptDespite.get(t.pass.id) ?? null },
      reading?.passes.find((p) => p.passId === t.pass.id) ?? null,
      request.knocks?.[t.pass.id] ?? [],
    ),
  );
  const pitchM = travelled[0]?.row.pitchM ?? 0;
  if (reading !== null) {
    reading.passes.forEach((p, i) => {
      const mean = reading.pooled.passes[i];
      const of = passes.find((q) => q.passId === p.passId);
      if (!mean || !of) return;
      of.stepM = estimateOf(mean, pitchM);
      of.creepMPerGap = estimateOf(mean, pitchM * perGap, -pitchM * perGap);
    });
  }
  if (approach !== null) {
    approach.pooled.passes.forEach((mean, i) => {
      const of = passes.find((q) => q.passId === approach.passIds[i]);
      if (mean && of) of.approachStepM = estimateOf(mean);
    });
  }
  const stepM = reading === null ? null : estimateOf(reading.pooled.mean, pitchM);
  const fractions = passes.filter((p) => p.used).flatMap((p) => rowFractions(p));
  const judgement: Omit<Judgement, "verdict" | "notes"> = {
    passes,
    stepM,
    creepMPerGap:
      reading === null ? null : estimateOf(reading.pooled.mean, pitchM * perGap, -pitchM * perGap),
    scatter: pooledScatter(reading?.passes ?? [], perGap),
    meanFraction: fractions.length > 0 ? meanFraction(fractions) : null,
    speedMps: meanSpeed(used.map((t) => t.pass.speedMps)),
    leftRight: reading === null ? null : readSides(reading.pooled),
    ownStep:
      reading === null || approach === null
        ? null
        : readOwnStep(reading.pooled.mean, approach.pooled.mean, pitchM, request.units ?? "cm"),
  };
  const verdict = reachVerdict({
    request,
    travelled: used,
    reading,
    judgement,
    resamples: options.resamples ?? 400,
  });
  return { ...judgement, verdict, notes: notesOn(request, judgement, reading) };
}

/** The reading with the error of its lengths counted into the pooled step. */
function withScale(reading: RowReading | null, share: number): RowReading | null {
  if (reading === null || share === 0) return reading;
  const { pooled } = reading;
  return { ...reading, pooled: { ...pooled, mean: withScaleError(pooled.mean, share) } };
}

function judgePass(
  { pass, row, landings }: TravelledPass,
  { setAside, keptDespite }: { setAside: string | null; keptDespite: string | null },
  reading: PassReading | null,
  knocks: number[],
): PassJudgement {
  const dropped = new Set(reading?.droppedIds);
  const hind = landings.filter(
    (l) =>
      isHind(l) && l.gap !== null && l.probability >= thresholds.countedProbability && !dropped.has(l.id),
  );
  const fractions = hind.map((l) => (pass.direction === 1 ? l.gapFraction! : 1 - l.gapFraction!));
  return {
    passId: pass.id,
    direction: pass.direction,
    used: setAside === null,
    setAside,
    keptDespite,
    landings,
    stepM: null,
    approachStepM: null,
    creepMPerGap: null,
    scatter: reading === null ? null : pooledScatter([reading], row.perGap),
    meanFraction: fractions.length > 0 ? meanFraction(fractions) : null,
    hindPerGap: Array.from(
      { length: row.polesM.length - 1 },
      (_, g) => hind.filter((l) => l.gap === g).length,
    ),
    knocks,
    knocksPerGap: knocksPerGap(knocks, pass.direction, row.polesM.length - 1),
    speedMps: pass.speedMps,
  };
}

/** Gap fractions of a pass's counted hind landings, in the direction of travel. */
function rowFractions(pass: PassJudgement): number[] {
  return countedHind(pass.landings)
    .filter((l) => l.gapFraction !== null)
    .map((l) => (pass.direction === 1 ? l.gapFraction! : 1 - l.gapFraction!));
}

function meanFraction(fractions: readonly number[]): number {
  const turns = resultant(fractions.map((f) => 2 * Math.PI * f)).mean / (2 * Math.PI);
  return turns < 0 ? turns + 1 : turns;
}

/** Circular standard deviation of the gap fraction about each pass's own creep, as a share of a gap; null under three. */
function pooledScatter(passes: readonly PassReading[], perGap: number): number | null {
  let length = 0;
  let total = 0;
  for (const { feet } of passes) {
    const n = feet.at.length;
    if (n < 3) continue;
    const { slope } = theilSen(feet.number, feet.at, feet.weight);
    const { r } = resultant(feet.at.map((v, i) => 2 * Math.PI * (v - slope * feet.number[i]!)));
    length += n * r;
    total += n;
  }
  return total === 0 ? null : circularSd(length / total) / (2 * Math.PI) / perGap;
}
