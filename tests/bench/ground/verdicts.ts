import { fitGround } from "../../../src/ground/fit.ts";
import type { IDENTITY } from "../../../src/ground/homography.ts";
import { scaleStandardError } from "../../../src/ground/quality.ts";
import { judge } from "../../../src/spacing/judge.ts";
import type { JudgeRequest, VerdictKind } from "../../../src/spacing/types.ts";
import { ordinary, simulateSession } from "../../simulated-sessions.ts";
import { normalFrom, randomFrom } from "../../unit/ground-scene.ts";
import { FPS, FULL, landing, PAW_HEIGHT_M, PLAIN_MARK, someRow } from "./cameras.ts";

export interface VerdictCondition {
  name: string;
  yawDeg: number;
  heightM: number;
  nearOnly?: boolean;
  /** Spread of the error that a moving camera's registration leaves in one landing, share of the long side. */
  registrationShare?: number;
}

export const VERDICT_CONDITIONS: VerdictCondition[] = [
  { name: "square", yawDeg: 0, heightM: 0.8 },
  { name: "10°", yawDeg: 10, heightM: 0.8 },
  { name: "20°", yawDeg: 20, heightM: 0.8 },
  { name: "30°", yawDeg: 30, heightM: 0.8 },
  { name: "0.3 m high", yawDeg: 0, heightM: 0.3 },
  { name: "0.3 m high, 20°", yawDeg: 20, heightM: 0.3 },
  { name: "1.5 m high", yawDeg: 0, heightM: 1.5 },
  { name: "moving camera", yawDeg: 0, heightM: 1, registrationShare: 0.7 / 1920 },
  { name: "moving camera, 20°", yawDeg: 20, heightM: 1, registrationShare: 0.7 / 1920 },
  { name: "near ends only", yawDeg: 10, heightM: 0.8, nearOnly: true },
];

export interface VerdictTally {
  sessions: number;
  /** A verdict on the spacing was spoken and it is the true one. */
  right: number;
  /** It was spoken with a confidence of 0.8 or more and it is wrong. */
  sureWrong: number;
  /** The same sessions with every landing where it truly was: what the dog's own scatter does without any camera. */
  sureWrongWithoutCamera: number;
  cannotTell: number;
  /** Mean error of the step against the true places, share. */
  scaleError: number;
}

export const MISMATCHES = [0, 0.05, -0.05, 0.08, -0.08, 0.12, -0.12];
/** From this share on a mismatch has a side; nearer to nought "fits" is right too. As in the bench of verdicts. */
const SMALL = 0.04;
const PASSES = [2, 3];

/**
 * Random dogs over random rows, filmed by random cameras: poles tapped, landings marked, mapped and judged. The height
 * of the paws' marks is off by the same amount in the whole session, ± 8 mm, as it would be with another dog.
 */
export function verdictsUnder(condition: VerdictCondition, sessions: number): VerdictTally {
  const tally = { sessions, right: 0, sureWrong: 0, sureWrongWithoutCamera: 0, cannotTell: 0 };
  const scaleErrors: number[] = [];
  for (let k = 0; k < sessions; k++) {
    const random = randomFrom(5003 * (k + 1) + Math.round(97 * condition.yawDeg + 1009 * condition.heightM));
    const spacingError = MISMATCHES[k % MISMATCHES.length]!;
    const poles = 5 + Math.floor(2 * random());
    const simulated = simulateSession(
      {
        ...ordinary,
        stepM: 0.4 + 0.15 * random(),
        poles,
        passes: PASSES[k % PASSES.length]!,
        spacingError,
        landingNoiseM: 0,
        tapNoiseM: 0,
      },
      7919 * (k + 1),
    );
    const { request, spacingM, trueStepM } = simulated;
    const mismatch = spacingM / trueStepM - 1;
    const seen = filmed(request, condition, poles, spacingM, random);
    if (!seen) {
      tally.cannotTell++;
      continue;
    }
    const { verdict, stepM } = judge(seen, { resamples: 100 });
    const plain = judge(request, { resamples: 100 });
    if (isSilent(verdict.kind)) tally.cannotTell++;
    else if (isRight(verdict.kind, mismatch)) tally.right++;
    else if (verdict.confidence >= 0.8) tally.sureWrong++;
    if (
      !isSilent(plain.verdict.kind) &&
      !isRight(plain.verdict.kind, mismatch) &&
      plain.verdict.confidence >= 0.8
    )
      tally.sureWrongWithoutCamera++;
    if (stepM && plain.stepM) scaleErrors.push(Math.abs(stepM.value / plain.stepM.value - 1));
  }
  return { ...tally, scaleError: scaleErrors.reduce((sum, e) => sum + e, 0) / scaleErrors.length };
}

/** The session as the camera shows it; null where no map could be made. */
function filmed(
  request: JudgeRequest,
  condition: VerdictCondition,
  poles: number,
  gapM: number,
  random: () => number,
): JudgeRequest | null {
  const normal = normalFrom(random);
  const { camera, marks } = someRow(
    condition.yawDeg,
    condition.heightM,
    condition.nearOnly ?? false,
    random,
    {
      poles,
      gapM,
    },
  );
  const map = fitGround(marks, FULL).map;
  if (!map) return null;
  const registrationSdPx = (condition.registrationShare ?? 0) * FULL.widthPx;
  const frames = Math.round(FPS * PLAIN_MARK.stanceS);
  const markHeightM = PAW_HEIGHT_M + PLAIN_MARK.heightSdM * normal();
  const laneM = 0.35 + 0.2 * random();
  const passes = request.passes.map((pass) => ({
    ...pass,
    landings: pass.landings.map((l) => {
      const yM = laneM + (l.paw[0] === "L" ? 0.05 : -0.05);
      const shake: typeof IDENTITY = [
        1,
        0,
        registrationSdPx * normal(),
        0,
        1,
        registrationSdPx * normal(),
        0,
        0,
        1,
      ];
      const placed = landing(
        map,
        { xM: l.xM, yM },
        Array.from({ length: frames }, () => camera),
        Array.from({ length: frames }, () => shake),
        registrationSdPx,
        { markHeightM },
        random,
      );
      return { ...l, xM: l.xM + placed.errorM, yM, xSeM: placed.seM };
    }),
  }));
  const scaleSe = scaleStandardError(map);
  return { ...request, passes, scaleSe: Object.fromEntries(passes.map((p) => [p.id, scaleSe])) };
}

export const isSilent = (kind: VerdictKind) => kind === "cannot-tell" || kind === "not-steady";

export function isRight(kind: VerdictKind, mismatch: number): boolean {
  const side =
    kind === "too-far" || kind === "two-steps" ? 1 : kind === "too-close" || kind === "stepped-over" ? -1 : 0;
  if (side === 0) return Math.abs(mismatch) < SMALL;
  return side === Math.sign(mismatch) && Math.abs(mismatch) > 1e-9;
}
