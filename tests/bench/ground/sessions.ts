import { fitGround } from "../../../src/ground/fit.ts";
import { scaleStandardError } from "../../../src/ground/quality.ts";
import { judge } from "../../../src/spacing/judge.ts";
import type { Verdict } from "../../../src/spacing/types.ts";
import { steadyTrot } from "../../simulated-evidence.ts";
import { normalFrom, randomFrom } from "../../unit/ground-scene.ts";
import { FULL, someRow } from "./cameras.ts";
import { BEFORE_M, crossed, marking } from "./passes.ts";
import { isRight, isSilent, MISMATCHES } from "./verdicts.ts";

export const SESSION_VIEWS = [
  { yawDeg: 0, heightM: 0.8 },
  { yawDeg: 20, heightM: 0.8 },
  { yawDeg: 0, heightM: 0.3 },
  { yawDeg: 20, heightM: 0.3 },
  { yawDeg: 0, heightM: 1.5 },
  { yawDeg: 30, heightM: 1 },
];

export interface SessionTally {
  sessions: number;
  right: number;
  cannotTell: number;
  /** Spoken with a confidence of 0.8 or more, and wrong. */
  sureWrong: number;
}

const STEP_SCATTER = 0.04;
/** How much higher or lower a dog's pads are seen in all of a session: more than the app reckons with (`ground/quality.ts`), metres. */
const OTHER_DOG_SD_M = 0.01;
/** How differently a dog begins from pass to pass, metres. */
const START_SD_M = 0.06;
/** From one pass to the next, seconds. */
const TURN_S = 20;

/**
 * Sessions of two and three whole passes before one tripod, from marks in pixels to the verdict by the app's own code.
 * Every dog's marks and pads lie higher or lower than the app takes them to, ± 1 cm, in the whole session.
 */
export function sessionsBefore(view: { yawDeg: number; heightM: number }, sessions: number): SessionTally {
  const tally = { sessions, right: 0, cannotTell: 0, sureWrong: 0 };
  for (let k = 0; k < sessions; k++) {
    const mismatch = MISMATCHES[k % MISMATCHES.length]!;
    const verdict = session(view, mismatch, 2 + (k % 2), 1009 * view.yawDeg + 101 * view.heightM + 13 * k);
    if (!verdict || isSilent(verdict.kind)) tally.cannotTell++;
    else if (isRight(verdict.kind, mismatch)) tally.right++;
    else if (verdict.confidence >= 0.8) tally.sureWrong++;
  }
  return tally;
}

function session(
  { yawDeg, heightM }: { yawDeg: number; heightM: number },
  mismatch: number,
  count: number,
  seed: number,
): Verdict | null {
  const random = randomFrom(Math.round(seed * 97) + 29);
  const normal = normalFrom(random);
  const gapM = 0.38 + 0.14 * random();
  const laid = { poles: 5 + Math.floor(2 * random()), gapM };
  const row = someRow(yawDeg, heightM, false, random, laid, true);
  const map = fitGround(row.marks, FULL).map;
  if (!map) return null;
  const shown = marking(row.camera, random, OTHER_DOG_SD_M * normal());
  const passes = Array.from({ length: count }, (_, n) => {
    const dog = {
      ...steadyTrot,
      seed: 10 * Math.round(seed) + n,
      stepM: gapM / (1 + mismatch),
      stepScatter: STEP_SCATTER,
    };
    const laterS = TURN_S * n;
    return crossed(row, map, dog, shown, BEFORE_M + START_SD_M * normal()).passes.map((pass) => ({
      ...pass,
      id: `${n}-${pass.id}`,
      startS: pass.startS + laterS,
      endS: pass.endS + laterS,
      landings: pass.landings.map((l) => ({ ...l, onS: l.onS + laterS, offS: l.offS + laterS })),
    }));
  }).flat();
  const scaleSe = scaleStandardError(map);
  return judge(
    {
      layout: {
        gapsM: row.marks.gapsM,
        heightsM: row.marks.poles.map(() => 0),
        targetFractions: row.marks.gapsM.map(() => 0.5),
      },
      passes,
      aim: "first-poles",
      gait: "trot",
      scaleSe: Object.fromEntries(passes.map((p) => [p.id, scaleSe])),
    },
    { resamples: 100 },
  ).verdict;
}
