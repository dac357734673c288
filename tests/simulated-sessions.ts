import type { Landing, Pass } from "../src/gait/types.ts";
import type { JudgeRequest } from "../src/spacing/types.ts";
import { type Random, seededRandom } from "../src/stats/random.ts";

/** A dog, a row and a camera, with all that can go wrong. Shares are of the step unless said otherwise. */
export interface SimulatedSession {
  /** The dog's free step, metres. */
  stepM: number;
  /** (spacing − step)/step of the free step: positive = poles too far apart. */
  spacingError: number;
  poles: number;
  passes: number;
  /** Standard deviation of single steps. */
  scatter: number;
  /** 0: every step is independent, so that landings wander; 1: the dog corrects every error with the next step. */
  correction: number;
  /** Standard deviation of a pass's speed about the dog's usual one; its step follows with speed^0.6 (Alexander 1976). */
  speedSd: number;
  /** Speed lost over all passes together (fatigue). */
  speedLoss: number;
  /** 0: free step over the poles; 1: the step becomes the spacing. */
  entrainment: number;
  /** Step onto the right minus step onto the left. */
  sideDifference: number;
  /** Where the first landing lies against the middle of the first gap, as a share of the gap, and its spread from pass to pass. */
  start: number;
  startSd: number;
  missed: number;
  invented: number;
  swapped: number;
  /** Noise of a landing's place, metres. */
  landingNoiseM: number;
  /** Noise of a pole's tap along the row, metres: turns into a common scale error of the map. */
  tapNoiseM: number;
}

/** A steady dog, an ordinary clip. */
export const ordinary: SimulatedSession = {
  stepM: 0.45,
  spacingError: 0,
  poles: 6,
  passes: 3,
  scatter: 0.04,
  correction: 0,
  speedSd: 0.015,
  speedLoss: 0,
  entrainment: 0,
  sideDifference: 0.03,
  start: 0,
  startSd: 0.08,
  missed: 0.05,
  invented: 0.02,
  swapped: 0.02,
  landingNoiseM: 0.008,
  tapNoiseM: 0.005,
};

export interface SimulatedRequest {
  request: JudgeRequest;
  /** The dog's mean step over these poles, metres: the spacing that would fit. */
  trueStepM: number;
  spacingM: number;
}

/** Steps before and after the row that the camera sees. */
const APPROACH_STEPS = 3;
const LEAVING_STEPS = 1;
const SPEED_MPS = 1.9;

/** One session, the same one for the same seed. */
export function simulateSession(s: SimulatedSession, seed: number): SimulatedRequest {
  const random = seededRandom(seed);
  const spacingM = s.stepM * (1 + s.spacingError);
  const trueStepM = s.stepM + s.entrainment * (spacingM - s.stepM);
  const gaps = s.poles - 1;
  // Least squares over equally spaced poles: standard deviation of the slope.
  const scale =
    1 + (normal(random) * s.tapNoiseM) / (spacingM * Math.sqrt((s.poles * (s.poles * s.poles - 1)) / 12));
  const passes: Pass[] = [];
  for (let p = 0; p < s.passes; p++) {
    const tired = s.passes > 1 ? 1 - (s.speedLoss * p) / (s.passes - 1) : 1;
    const pace = tired * (1 + s.speedSd * normal(random));
    passes.push(simulatePass(s, p, pace, { spacingM, trueStepM, gaps, scale }, random));
  }
  const gapsM = Array.from({ length: gaps }, () => spacingM);
  return {
    request: {
      layout: { gapsM, heightsM: [], targetFractions: gapsM.map(() => 0.5) },
      passes,
      aim: "first-poles",
      gait: "trot",
    },
    trueStepM,
    spacingM,
  };
}

function simulatePass(
  s: SimulatedSession,
  index: number,
  pace: number,
  row: { spacingM: number; trueStepM: number; gaps: number; scale: number },
  random: Random,
): Pass {
  const quick = pace ** 0.6;
  const rowStep = row.trueStepM * quick;
  const freeStep = s.stepM * quick;
  const lengthM = row.gaps * row.spacingM;
  const direction = index % 2 === 0 ? 1 : -1;
  const first = row.spacingM * (0.5 + s.start + s.startSd * normal(random));
  const stepTime = row.trueStepM / SPEED_MPS;
  const leftFirst = random() < 0.5;
  const landings: Landing[] = [];
  let id = 0;
  const add = (uM: number, number: number, real: boolean) => {
    const place = (uM - lengthM / 2) * row.scale + lengthM / 2 + s.landingNoiseM * normal(random);
    let left = (number % 2 === 0) === leftFirst;
    if (real ? random() < s.swapped : random() < 0.5) left = !left;
    landings.push({
      id: `${index}-${id++}`,
      paw: left ? "LH" : "RH",
      onS: number * stepTime,
      offS: number * stepTime + 0.15,
      xM: direction === 1 ? place : lengthM - place,
      yM: 0.3,
      xSeM: s.landingNoiseM,
      probability: real
        ? random() < 0.1
          ? 0.35 + 0.25 * random()
          : 0.75 + 0.23 * random()
        : 0.25 + 0.4 * random(),
      source: "automatic",
    });
  };
  // Forwards from the first landing in the row, backwards for the way in.
  let u = first - freeStep * APPROACH_STEPS;
  let debt = 0;
  for (let k = -APPROACH_STEPS; u < lengthM + LEAVING_STEPS * row.spacingM && k < 60; k++) {
    if (random() >= s.missed) add(u, k, true);
    if (random() < s.invented) add(u + freeStep * (random() - 0.5), k + 0.5 * random(), false);
    const mean = k < 0 ? freeStep : rowStep;
    const side = (((k + 1) % 2 === 0) === leftFirst ? -0.5 : 0.5) * s.sideDifference;
    const error = s.scatter * normal(random);
    u += mean * (1 + side + error - s.correction * debt);
    debt = debt * (1 - s.correction) + error;
  }
  landings.sort((a, b) => a.onS - b.onS);
  const speedMps = SPEED_MPS * pace;
  return {
    id: `pass-${index}`,
    startS: landings[0]?.onS ?? 0,
    endS: landings[landings.length - 1]?.offS ?? 0,
    direction,
    landings,
    speedMps,
    accelerationMps2: 0,
    gait: "trot",
    strideTimeS: 2 * stepTime * (1 + 0.02 * normal(random)),
    limbPhase: 0.45,
    dutyFactor: 0.4,
  };
}

function normal(random: Random): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}
