import { resultant } from "../stats/circular.ts";
import { seededRandom } from "../stats/random.ts";
import { hindPerGap } from "./aims.ts";
import { decideAllFeetPerGap, decideOnePerGap, morePasses, type StepAgainstSpacing } from "./decide.ts";
import { limitedMove, roundToTape } from "./lengths.ts";
import { estimateOf } from "./pooled-step.ts";
import { placeOf, type RowReading, type TravelledPass } from "./row-reading.ts";
import { thresholds } from "./thresholds.ts";
import type { Judgement, JudgeRequest, Verdict, VerdictKind } from "./types.ts";
import { type Findings, wordVerdict } from "./wording.ts";

interface Grounds {
  request: JudgeRequest;
  /** Passes that count. */
  travelled: readonly TravelledPass[];
  reading: RowReading | null;
  judgement: Omit<Judgement, "verdict" | "notes">;
  resamples: number;
}

/** From what was read to the one verdict, its numbers and its sentences. */
export function reachVerdict(grounds: Grounds): Verdict {
  const findings = find(grounds);
  const reading = grounds.reading;
  const readable = findings.kind !== "not-steady" && findings.kind !== "cannot-tell";
  return {
    kind: findings.kind,
    ...wordVerdict(findings),
    spacingM: findings.spacingM,
    fitSpacingM: findings.fitSpacingM,
    intervalM: findings.intervalM,
    moveStartM: findings.moveStartM,
    confidence: findings.confidence,
    restsOn: reading === null ? [] : reading.passes.flatMap((p) => p.ids),
    morePasses: readable ? undefined : findings.morePasses,
  };
}

function find(grounds: Grounds): Findings {
  const { request, travelled, reading, judgement } = grounds;
  const perGap = hindPerGap(request.aim);
  const units = request.units ?? "cm";
  const gaps = request.layout.gapsM;
  const spacingM = Math.round((1e6 * gaps.reduce((a, b) => a + b, 0)) / gaps.length) / 1e6;
  const inRow = reading === null ? 0 : reading.passes.reduce((n, p) => n + p.inRow.filter(Boolean).length, 0);
  const nothing: Findings = {
    kind: "cannot-tell",
    why: "few-landings",
    request,
    judgement,
    units,
    perGap,
    currentSpacingM: spacingM,
    spacingM: null,
    fitSpacingM: null,
    intervalM: null,
    moveStartM: null,
    confidence: 0,
    limited: false,
    mismatch: null,
    stepCv: null,
    placeM: null,
    landings: inRow,
    passes: travelled.length,
    morePasses: 2,
  };
  const setAside = request.passes.length - travelled.length;
  if (reading === null || inRow < thresholds.fewestHindLandings) {
    const bySpeed = setAside > 0 && setAside >= travelled.length;
    return bySpeed ? { ...nothing, kind: "not-steady", why: "passes-set-aside" } : nothing;
  }

  const { pooled } = reading;
  const pitchM = spacingM / perGap;
  const against: StepAgainstSpacing = {
    mismatch: 1 - 1 / pooled.mean.value,
    se: pooled.mean.se / pooled.mean.value ** 2,
    df: pooled.mean.df,
    stepCv: pooled.stepCv,
    steps: pooled.mean.n,
    pitchM,
  };
  const decide = perGap === 2 ? decideAllFeetPerGap : decideOnePerGap;
  const read: Findings = {
    ...nothing,
    why: null,
    mismatch: against.mismatch,
    stepCv: pooled.stepCv,
    fitSpacingM: pooled.mean.value * spacingM,
    intervalM: estimateOf(pooled.mean, spacingM).interval,
    morePasses: morePasses(against, reading.passes.length, decide),
  };
  if (
    perGap === 1 &&
    pooled.stepCv !== null &&
    pooled.stepCv > thresholds.unsteadyStepCv &&
    pooled.mean.n >= thresholds.unsteadySteps
  ) {
    return { ...read, kind: "not-steady", why: "steps-vary" };
  }
  let kind: VerdictKind = decide(against);
  if ((kind === "two-steps" || kind === "stepped-over") && reading.steps.margin < thresholds.readingMargin) {
    return { ...read, why: "ambiguous", morePasses: 2 };
  }
  if (kind === "cannot-tell") {
    if (reading.passes.length >= 3 && pooled.passSd > thresholds.unsteadyPassSd) {
      return { ...read, kind: "not-steady", why: "passes-differ" };
    }
    return {
      ...read,
      why: "wide-interval",
      confidence: shareOfResamples(reading, against, kind, decide, grounds),
    };
  }
  const places = placesOf(reading);
  let moveStartM: number | null = null;
  if (kind === "fits" && perGap === 1 && asksForNewStart(places)) {
    kind = "fits-move-start";
    moveStartM = roundToTape(places.mean * spacingM, units);
  }
  const next = nextSpacing(kind, read, grounds);
  return {
    ...read,
    ...next,
    kind,
    moveStartM,
    placeM: places.mean * pitchM,
    confidence: shareOfResamples(reading, against, kind, decide, grounds),
  };
}

/** What to lay next: the same where it fits, the fitting spacing (within limits) where not. */
function nextSpacing(
  kind: VerdictKind,
  read: Findings,
  { request, judgement }: Grounds,
): Pick<Findings, "spacingM" | "fitSpacingM" | "intervalM" | "limited"> {
  const from = read.currentSpacingM;
  let wanted = read.fitSpacingM ?? from;
  let interval = read.intervalM;
  if (kind === "fits" || kind === "fits-move-start") {
    return { spacingM: from, fitSpacingM: wanted, intervalM: interval, limited: false };
  }
  if (kind === "two-steps" || kind === "stepped-over") {
    // Chopped or leaping steps are not the dog's own; only the way in shows those.
    const free = judgement.ownStep?.approachStepM ?? null;
    const helps = free !== null && (kind === "two-steps" ? free.value < from : free.value > from);
    interval = helps ? free.interval : null;
    wanted = helps
      ? free.value
      : from * (kind === "two-steps" ? 1 - thresholds.largestMoveShare : 1 + thresholds.largestMoveShare);
  }
  if (read.perGap === 2 && request.bodyLengthM)
    wanted = Math.max(1.5 * request.bodyLengthM, kind === "too-close" ? wanted : 0);
  const { spacingM, limited } = limitedMove(from, wanted, read.units);
  return {
    spacingM,
    limited,
    intervalM: interval,
    fitSpacingM: kind === "two-steps" || kind === "stepped-over" ? (interval ? wanted : null) : wanted,
  };
}

interface Places {
  /** Mean place against the target, in slots along travel, −0.5 to 0.5. */
  mean: number;
  /** How well passes agree, 0 to 1. */
  agreement: number;
  each: number[];
}

function placesOf(reading: RowReading): Places {
  const each = reading.passes.filter((p) => p.inRow.some(Boolean)).map((p) => placeOf(p).place);
  return { ...meanPlace(each), each };
}

function meanPlace(each: readonly number[]): { mean: number; agreement: number } {
  const { mean, r } = resultant(each.map((p) => 2 * Math.PI * p));
  return { mean: mean / (2 * Math.PI), agreement: r };
}

function asksForNewStart({ mean, agreement }: { mean: number; agreement: number }): boolean {
  return Math.abs(mean) > thresholds.moveStartBeyond && agreement >= thresholds.moveStartAgreement;
}

/**
 * Share of resamples that give this verdict: two-stage bootstrap (passes, then steps within them) of the mean step. Plain
 * resamples of so few passes spread too little, so they are scaled to the standard error, which is checked by simulation.
 */
function shareOfResamples(
  reading: RowReading,
  against: StepAgainstSpacing,
  kind: VerdictKind,
  decide: (m: StepAgainstSpacing) => VerdictKind,
  { resamples, request }: Grounds,
): number {
  const perGap = hindPerGap(request.aim);
  const random = seededRandom(1);
  const passes = reading.pooled.steps.filter((steps) => steps.length > 0);
  const places = placesOf(reading).each;
  const means = new Float64Array(resamples);
  const starts: boolean[] = [];
  const judgesStart = perGap === 1 && (kind === "fits" || kind === "fits-move-start");
  for (let b = 0; b < resamples; b++) {
    let sum = 0;
    let n = 0;
    const chosen: number[] = [];
    for (let p = 0; p < passes.length; p++) {
      const which = Math.floor(random() * passes.length);
      const steps = passes[which]!;
      if (judgesStart) chosen.push(places[which % places.length]!);
      for (let i = 0; i < steps.length; i++) sum += steps[Math.floor(random() * steps.length)]!;
      n += steps.length;
    }
    means[b] = sum / n;
    if (judgesStart) starts.push(asksForNewStart(meanPlace(chosen)));
  }
  let centre = 0;
  for (const m of means) centre += m / resamples;
  let variance = 0;
  for (const m of means) variance += (m - centre) ** 2 / resamples;
  const scale = variance > 0 ? against.se / Math.sqrt(variance) : 0;
  let same = 0;
  means.forEach((m, b) => {
    let drawn: VerdictKind = decide({ ...against, mismatch: against.mismatch + scale * (m - centre) });
    if (drawn === "fits" && starts[b]) drawn = "fits-move-start";
    if (drawn === kind) same++;
  });
  return same / resamples;
}
