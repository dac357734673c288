import { z } from "zod";
import type { Landing, Pass } from "../gait/types.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import type { Judgement, Layout, PassJudgement, PlacedLanding } from "../spacing/types.ts";
import type { Estimate } from "../stats/types.ts";
import { PROGRAM } from "./program.ts";

/** Raised whenever a field changes its meaning or goes away; added fields leave it as it is. */
export const RESULT_VERSION = 1;

const interval = z.tuple([z.number(), z.number()]);
const estimate = z.object({ value: z.number(), interval, n: z.number().int().nonnegative() });
const imagePoint = z.object({ x: z.number(), y: z.number() });
const gait = z.enum(["walk", "amble", "pace", "trot", "canter", "standing", "unclear"]);

const landing = z.object({
  id: z.string(),
  paw: z.enum(["LH", "RH", "LF", "RF"]),
  onS: z.number(),
  offS: z.number(),
  xM: z.number(),
  yM: z.number(),
  xSeM: z.number().nonnegative().nullable(),
  place: z.enum(["approach", "row", "leaving"]),
  gap: z.number().int().nonnegative().nullable(),
  offsetM: z.number().nullable(),
  gapFraction: z.number().nullable(),
  probability: z.number().min(0).max(1),
  source: z.enum(["automatic", "hand"]),
});

const pass = z.object({
  id: z.string(),
  direction: z.union([z.literal(1), z.literal(-1)]),
  startS: z.number(),
  endS: z.number(),
  speedMps: z.number().nullable(),
  accelerationMps2: z.number().nullable(),
  gait,
  strideTimeS: z.number().nullable(),
  limbPhase: z.number().nullable(),
  dutyFactor: z.number().nullable(),
  used: z.boolean(),
  setAside: z.string().nullable(),
  keptDespite: z.string().nullable(),
  landings: z.array(landing),
  stepM: z.number().nullable(),
  stepIntervalM: interval.nullable(),
  approachStepM: z.number().nullable(),
  approachStepIntervalM: interval.nullable(),
  creepMPerGap: z.number().nullable(),
  creepIntervalM: interval.nullable(),
  scatter: z.number().nullable(),
  meanFraction: z.number().nullable(),
  hindPerGap: z.array(z.number().nonnegative()),
  knocks: z.array(z.number().int().nonnegative()),
  /** The same by the gap that the dog entered over them; absent in older files. */
  knocksPerGap: z.array(z.number().int().nonnegative()).optional(),
});

/** The file result.json. Lengths in metres, times in seconds of the clip, picture points in upright pixels. */
export const resultSchema = z.object({
  version: z.literal(RESULT_VERSION),
  madeBy: z.string(),
  units: z.object({
    length: z.literal("m"),
    time: z.literal("s"),
    speed: z.literal("m/s"),
    picture: z.string(),
  }),
  clip: z.object({
    fileName: z.string(),
    sizeBytes: z.number().nonnegative(),
    durationS: z.number().nonnegative(),
    widthPx: z.number().positive(),
    heightPx: z.number().positive(),
    rotationDeg: z.union([z.literal(0), z.literal(90), z.literal(180), z.literal(270)]),
    codec: z.string(),
    frameCount: z.number().int().nonnegative(),
    meanFps: z.number().nonnegative(),
    variableRate: z.boolean(),
    decoder: z.enum(["browser", "fallback"]),
  }),
  marks: z.object({
    timeS: z.number(),
    poles: z.array(z.object({ near: imagePoint.optional(), far: imagePoint.optional() })),
    gapsM: z.array(z.number()),
    poleLengthM: z.number().optional(),
    poleHeightM: z.number().optional(),
  }),
  ground: z.object({
    kind: z.enum(["plane", "row"]).nullable(),
    tapSdPx: z.number().nullable(),
    residuals: z.array(
      z.object({
        pole: z.number().int().nonnegative(),
        alongM: z.number().nullable(),
        acrossM: z.number().nullable(),
        suspect: z.boolean(),
      }),
    ),
  }),
  camera: z.object({
    kind: z.enum(["still", "moving"]),
    largestShiftPx: z.number().nullable(),
    lost: z.array(interval),
  }),
  layout: z.object({
    gapsM: z.array(z.number().positive()),
    heightsM: z.array(z.number()),
    targetFractions: z.array(z.number()),
    anglesDeg: z.array(z.number()).optional(),
  }),
  passes: z.array(pass),
  setAside: z.array(z.object({ startS: z.number(), endS: z.number(), reason: z.string() })),
  verdict: z.object({
    kind: z.enum([
      "fits",
      "fits-move-start",
      "too-close",
      "too-far",
      "two-steps",
      "stepped-over",
      "not-steady",
      "cannot-tell",
    ]),
    sentence: z.string(),
    evidence: z.string(),
    spacingM: z.number().nullable(),
    intervalM: interval.nullable(),
    fitSpacingM: z.number().nullable(),
    moveStartM: z.number().nullable(),
    confidence: z.number(),
    restsOn: z.array(z.string()),
    nextTime: z.string(),
    morePasses: z.number().nullable(),
  }),
  overall: z.object({
    stepM: estimate.nullable(),
    creepMPerGap: estimate.nullable(),
    scatter: z.number().nullable(),
    meanFraction: z.number().nullable(),
    speedMps: estimate.nullable(),
    leftRight: z
      .object({ differencePercent: estimate, smallestRealPercent: z.number(), sentence: z.string() })
      .nullable(),
    ownStep: z
      .object({
        approachStepM: estimate,
        rowStepM: estimate,
        stretchPercent: estimate,
        sentence: z.string(),
      })
      .nullable(),
  }),
  warnings: z.array(z.string()),
});

export type ResultFile = z.infer<typeof resultSchema>;

export interface ResultInput {
  analysis: ClipAnalysis;
  /** The passes as edited; analysis.passes when left out. */
  passes?: readonly Pass[] | undefined;
  judgement: Judgement;
  layout: Layout;
}

/**
 * Everything found in one clip and what was made of it, as plain data for other programs: write it with
 * JSON.stringify. Of a judgement over several clips only the passes of this clip are given, with the verdict over all.
 * Numbers that could not be measured are null, never missing.
 */
export function toResultJson({ analysis, passes, judgement, layout }: ResultInput): ResultFile {
  const { clip, marks, ground, camera } = analysis;
  return {
    version: RESULT_VERSION,
    madeBy: PROGRAM,
    units: { length: "m", time: "s", speed: "m/s", picture: "pixels of the upright frame" },
    clip: {
      fileName: clip.fileName,
      sizeBytes: clip.sizeBytes,
      durationS: clip.durationS,
      widthPx: clip.widthPx,
      heightPx: clip.heightPx,
      rotationDeg: clip.rotationDeg,
      codec: clip.codec,
      frameCount: clip.frameCount,
      meanFps: clip.meanFps,
      variableRate: clip.variableRate,
      decoder: clip.decoder,
    },
    marks,
    ground: {
      kind: ground.map?.kind ?? null,
      tapSdPx: finite(ground.map?.tapSdPx),
      residuals: ground.residuals.map((residual) => ({
        ...residual,
        alongM: finite(residual.alongM),
        acrossM: finite(residual.acrossM),
      })),
    },
    camera: { ...camera, largestShiftPx: finite(camera.largestShiftPx) },
    layout,
    passes: (passes ?? analysis.passes).map((found) =>
      resultPass(
        found,
        judgement.passes.find((judged) => judged.passId === found.id),
      ),
    ),
    setAside: analysis.setAside,
    verdict: {
      ...judgement.verdict,
      spacingM: finite(judgement.verdict.spacingM),
      intervalM: finiteInterval(judgement.verdict.intervalM),
      fitSpacingM: finite(judgement.verdict.fitSpacingM),
      moveStartM: finite(judgement.verdict.moveStartM),
      morePasses: finite(judgement.verdict.morePasses),
    },
    overall: {
      stepM: measured(judgement.stepM),
      creepMPerGap: measured(judgement.creepMPerGap),
      scatter: finite(judgement.scatter),
      meanFraction: finite(judgement.meanFraction),
      speedMps: measured(judgement.speedMps),
      leftRight: judgement.leftRight && allFinite(judgement.leftRight),
      ownStep: judgement.ownStep && allFinite(judgement.ownStep),
    },
    warnings: [...clip.warnings, ...analysis.warnings, ...judgement.notes],
  };
}

function resultPass(found: Pass, judged: PassJudgement | undefined): ResultFile["passes"][number] {
  return {
    id: found.id,
    direction: found.direction,
    startS: found.startS,
    endS: found.endS,
    speedMps: finite(found.speedMps),
    accelerationMps2: finite(found.accelerationMps2),
    gait: found.gait,
    strideTimeS: finite(found.strideTimeS),
    limbPhase: finite(found.limbPhase),
    dutyFactor: finite(found.dutyFactor),
    used: judged?.used ?? false,
    setAside: judged ? judged.setAside : "Not judged.",
    keptDespite: judged?.keptDespite ?? null,
    landings: (judged?.landings ?? found.landings.map(unplaced)).map((l) => ({
      id: l.id,
      paw: l.paw,
      onS: l.onS,
      offS: l.offS,
      xM: l.xM,
      yM: l.yM,
      xSeM: finite(l.xSeM),
      place: l.place,
      gap: l.gap,
      offsetM: finite(l.offsetM),
      gapFraction: finite(l.gapFraction),
      probability: l.probability,
      source: l.source,
    })),
    stepM: finite(judged?.stepM?.value),
    stepIntervalM: finiteInterval(judged?.stepM?.interval),
    approachStepM: finite(judged?.approachStepM?.value),
    approachStepIntervalM: finiteInterval(judged?.approachStepM?.interval),
    creepMPerGap: finite(judged?.creepMPerGap?.value),
    creepIntervalM: finiteInterval(judged?.creepMPerGap?.interval),
    scatter: finite(judged?.scatter),
    meanFraction: finite(judged?.meanFraction),
    hindPerGap: judged?.hindPerGap ?? [],
    knocks: judged?.knocks ?? [],
    knocksPerGap: judged?.knocksPerGap ?? [],
  };
}

/** A landing of a pass that was not judged has no place in the row. */
function unplaced(found: Landing): Omit<PlacedLanding, "passId"> {
  return { ...found, gap: null, offsetM: null, gapFraction: null, place: "approach" };
}

/** JSON knows no infinity and no NaN: what could not be measured is null. */
function finite(value: number | null | undefined): number | null {
  return typeof value === "number" && Number.isFinite(value) ? value : null;
}

function finiteInterval(value: [number, number] | null | undefined): [number, number] | null {
  return value?.every(Number.isFinite) ? value : null;
}

function measured(value: Estimate | null): Estimate | null {
  return value !== null && finiteInterval([value.value, value.value]) && finiteInterval(value.interval)
    ? value
    : null;
}

/** A comparison counts as a whole: it is null when one of its numbers could not be measured. */
function allFinite<T extends object>(comparison: T): T | null {
  return JSON.stringify(comparison) === JSON.stringify(comparison, nonFiniteMarked) ? comparison : null;
}

function nonFiniteMarked(_key: string, value: unknown): unknown {
  return typeof value === "number" && !Number.isFinite(value) ? "not finite" : value;
}
