import type { Pass } from "../gait/types.ts";
import { type Resultant, resultant, wrapFraction } from "../stats/circular.ts";
import { circularLinear } from "../stats/circular-linear.ts";
import { type NumberedFeet, type PooledStep, poolSteps } from "./pooled-step.ts";
import { type Foothold, readSteps, type StepReading } from "./steps.ts";
import { thresholds } from "./thresholds.ts";
import { alongTravel, slotCoordinate, type TravelRow } from "./travel.ts";
import type { PlacedLanding } from "./types.ts";

/** A pass with its landings placed and the row as it met it. */
export interface TravelledPass {
  pass: Pass;
  row: TravelRow;
  landings: PlacedLanding[];
}

/** What one pass's hind landings in the row say, in slots (1 = the distance between landing targets). */
export interface PassReading {
  passId: string;
  /** Kept hind landings, step by step, with the ones just before and just after an even row. */
  feet: NumberedFeet;
  ids: string[];
  /** True for those between the first and the last pole. */
  inRow: boolean[];
  /** Hind landings of the row that the reading takes for none. */
  droppedIds: string[];
}

export interface RowReading {
  passes: PassReading[];
  steps: StepReading;
  pooled: PooledStep;
}

/** Hind landings that count, in order of time. */
export function countedHind(landings: readonly PlacedLanding[]): PlacedLanding[] {
  return landings
    .filter((l) => isHind(l) && l.probability >= thresholds.countedProbability)
    .toSorted((a, b) => a.onS - b.onS);
}

export function isHind(landing: PlacedLanding): boolean {
  return landing.paw === "LH" || landing.paw === "RH";
}

/**
 * Reads the step over the poles from all passes together. The steps over the first and the last pole are made over a
 * pole like the others, so in an even row the landing just before and the one just after it belong to the reading.
 * @returns null when there is no step to read
 */
export function readRow(travelled: readonly TravelledPass[]): RowReading | null {
  const chains = travelled.map(({ landings, row }) => {
    const hind = countedHind(landings);
    const inRow = hind.filter((l) => l.place === "row");
    if (!row.even) return inRow;
    const before = hind.findLast((l) => l.place === "approach");
    const after = hind.find((l) => l.place === "leaving");
    return [...(before ? [before] : []), ...inRow, ...(after ? [after] : [])];
  });
  const footholds = chains.map((chain, p) => {
    const { row } = travelled[p]!;
    return chain.map((l) => foothold(l, slotCoordinate(row, alongTravel(row, l.xM)), l.xSeM / row.pitchM));
  });
  const hints = travelled.map(({ pass, row }) =>
    pass.strideTimeS === null ? null : (pass.speedMps * pass.strideTimeS) / 2 / row.pitchM,
  );
  const steps = readSteps(footholds, hints);
  if (steps === null) return null;
  const passes = chains.map((chain, p) =>
    passReading(travelled[p]!.pass.id, chain, footholds[p]!, steps.numbers[p]!),
  );
  const pooled = poolSteps(
    passes.map((p) => p.feet),
    steps.step,
    travelled.map((t) => t.pass.speedMps),
  );
  return pooled === null ? null : { passes, steps, pooled };
}

/** The free step on the way to the row, metres, from hind landings before the first pole; null where too few. */
export function readApproach(
  travelled: readonly TravelledPass[],
): { pooled: PooledStep; passIds: string[] } | null {
  const chains = travelled.map(({ landings, row }) =>
    countedHind(landings)
      .filter((l) => l.place === "approach")
      .map((l) => foothold(l, alongTravel(row, l.xM), l.xSeM)),
  );
  const hints = travelled.map(({ pass }) =>
    pass.strideTimeS === null ? null : (pass.speedMps * pass.strideTimeS) / 2,
  );
  const steps = readSteps(chains, hints);
  if (steps === null) return null;
  const pooled = poolSteps(
    chains.map((chain, c) => numbered(chain, steps.numbers[c]!)),
    steps.step,
    travelled.map((t) => t.pass.speedMps),
  );
  if (pooled === null || pooled.mean.n < thresholds.approachSteps) return null;
  return { pooled, passIds: travelled.map((t) => t.pass.id) };
}

/** Where one pass's landings in the row lie about their targets. */
export function placeOf(reading: PassReading): Resultant {
  return commonPlace([reading]);
}

/** Place of all passes' landings taken together: mean direction in radians about the target, agreement, number. */
export function commonPlace(readings: readonly PassReading[]): Resultant {
  return resultant(
    readings.flatMap((p) => p.feet.at.filter((_, i) => p.inRow[i]).map((v) => 2 * Math.PI * v)),
  );
}

/**
 * The step read a second way: circular–linear regression of places that repeat every slot, each pass with its own start.
 * It knows nothing of pairs and medians, so a large difference means that the landings tell no clear story.
 * @returns step in slots, nearest to the one given
 */
export function stepByRegression(readings: readonly PassReading[], near: number): number | null {
  const groups = readings
    .filter((p) => p.feet.at.length >= 3)
    .map(({ feet }) => ({
      x: feet.number,
      angles: feet.at.map((v) => 2 * Math.PI * v),
      weights: feet.weight,
    }));
  if (groups.length === 0) return null;
  return near + wrapFraction(circularLinear(groups).slope - near);
}

function foothold(l: PlacedLanding, at: number, se: number): Foothold {
  return { id: l.id, at, se, probability: l.probability, left: l.paw === "LH" };
}

function numbered(chain: readonly Foothold[], numbers: readonly (number | null)[]): NumberedFeet {
  const kept = chain.map((foot, i) => ({ foot, number: numbers[i] })).filter((k) => k.number !== null);
  return {
    at: kept.map((k) => k.foot.at),
    number: kept.map((k) => k.number as number),
    weight: kept.map((k) => (k.foot.probability < thresholds.doubtfulProbability ? 0.5 : 1)),
    left: kept.map((k) => k.foot.left),
    se: kept.map((k) => k.foot.se),
  };
}

function passReading(
  passId: string,
  chain: readonly PlacedLanding[],
  footholds: readonly Foothold[],
  numbers: readonly (number | null)[],
): PassReading {
  const kept = chain.filter((_, i) => numbers[i] !== null);
  return {
    passId,
    feet: numbered(footholds, numbers),
    ids: kept.map((l) => l.id),
    inRow: kept.map((l) => l.place === "row"),
    droppedIds: chain.filter((l, i) => numbers[i] === null && l.place === "row").map((l) => l.id),
  };
}
