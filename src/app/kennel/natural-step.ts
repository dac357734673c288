import type { Pass } from "../../gait/types.ts";
import { estimateOf } from "../../spacing/pooled-step.ts";
import { readApproach } from "../../spacing/row-reading.ts";
import { travelRow } from "../../spacing/travel.ts";
import type { Estimate } from "../../stats/types.ts";
import { type ClipRecord, passesOf } from "../../store/types.ts";

/** Any row will do: on bare ground only distances along the way count. */
const NOWHERE = { gapsM: [1], heightsM: [0, 0], targetFractions: [0.5] };

export interface NaturalStep {
  /** Hind step, metres. */
  stepM: Estimate;
  /** Mean speed of the passes behind it, m/s. */
  speedMps: number;
  passes: number;
}

/**
 * The dog's step with no poles at all, from passes over bare ground: every counted hind landing is read like a step on
 * the way to a row. Null under three steps.
 */
export function naturalStep(clips: readonly ClipRecord[]): NaturalStep | null {
  const passes = clips.flatMap((clip) =>
    passesOf(clip).filter((pass) => clip.passChoices[pass.id]?.use !== false),
  );
  const reading = readApproach(
    passes.map((pass) => ({
      pass,
      row: travelRow(NOWHERE, pass.direction, 1),
      landings: freeLandings(pass),
    })),
  );
  if (!reading) return null;
  const speeds = passes.map((pass) => pass.speedMps);
  return {
    stepM: estimateOf(reading.pooled.mean),
    speedMps: speeds.reduce((sum, speed) => sum + speed, 0) / speeds.length,
    passes: passes.length,
  };
}

function freeLandings(pass: Pass) {
  return pass.landings.map((landing) => ({
    ...landing,
    passId: pass.id,
    gap: null,
    offsetM: null,
    gapFraction: null,
    place: "approach" as const,
  }));
}
