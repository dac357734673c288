import { hindPerGap } from "./aims.ts";
import { confidenceIn } from "./confidence.ts";
import { decideAllFeetPerGap, decideOnePerGap, morePasses, type StepAgainstSpacing } from "./decide.ts";
import { limitedMove, roundToTape } from "./lengths.ts";
import { estimateOf } from "./pooled-step.ts";
import { placeOf, type RowReading, stepByRegression, type TravelledPass } from "./row-reading.ts";
import { asksForNewStart, meanPlace } from "./start-place.ts";
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
  // What a person took out says nothing of how steadily the dog went.
  const byHand = request.passes.filter((pass) => request.decisions?.[pass.id]?.use === false).length;
  const setAside = request.passes.length - travelled.length - byHand;
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
    perGap,
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
  const again = perGap === 1 ? stepByRegression(reading.passes, pooled.mean.value) : null;
  if (again !== null && Math.abs(again - pooled.mean.value) > thresholds.readingsApart) {
    return { ...read, why: "readings-apart", morePasses: 2 };
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
      confidence: confidenceIn(kind, reading, against, decide, grounds.resamples),
    };
  }
  const place = meanPlace(reading.passes.map(placeOf));
  let moveStartM: number | null = null;
  if (kind === "fits" && perGap === 1 && asksForNewStart(place)) {
    kind = "fits-move-start";
    moveStartM = roundToTape(place.turns * spacingM, units);
  }
  const next = nextSpacing(kind, read, grounds);
  return {
    ...read,
    ...next,
    kind,
    moveStartM,
    placeM: place.turns * pitchM,
    confidence: confidenceIn(kind, reading, against, decide, grounds.resamples),
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
