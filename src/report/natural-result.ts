import { z } from "zod";
import type { NaturalStep } from "../spacing/natural-step.ts";
import type { PoleGait } from "../spacing/types.ts";
import { PROGRAM } from "./program.ts";

/** Raised when a reader of the file could no longer make sense of it. */
export const NATURAL_VERSION = 1;

const interval = z.tuple([z.number(), z.number()]);
const estimate = z.object({ value: z.number(), interval: interval.nullable(), n: z.number() });

/** The file natural-step.json. Lengths in metres, times in seconds of the clip. */
export const naturalSchema = z.object({
  version: z.literal(NATURAL_VERSION),
  madeBy: z.string(),
  units: z.object({ length: z.literal("m"), time: z.literal("s"), speed: z.literal("m/s") }),
  gait: z.enum(["walk", "trot"]),
  stepM: estimate.nullable(),
  speedMps: estimate.nullable(),
  leftRightPercent: estimate.nullable(),
  passes: z.array(
    z.object({
      id: z.string(),
      direction: z.union([z.literal(1), z.literal(-1)]),
      used: z.boolean(),
      setAside: z.string().nullable(),
      keptDespite: z.string().nullable(),
      speedMps: z.number().nullable(),
      stepM: estimate.nullable(),
      landings: z.array(
        z.object({
          id: z.string(),
          paw: z.enum(["LH", "RH", "LF", "RF"]),
          onS: z.number(),
          offS: z.number(),
          xM: z.number(),
          yM: z.number(),
          probability: z.number(),
          source: z.enum(["automatic", "hand"]),
        }),
      ),
    }),
  ),
});

export type NaturalFile = z.infer<typeof naturalSchema>;

/** A session over bare ground as plain data for other programs. What could not be measured is null, never missing. */
export function toNaturalJson(natural: NaturalStep, gait: PoleGait): NaturalFile {
  return {
    version: NATURAL_VERSION,
    madeBy: PROGRAM,
    units: { length: "m", time: "s", speed: "m/s" },
    gait,
    stepM: measured(natural.stepM),
    speedMps: measured(natural.speedMps),
    leftRightPercent: measured(natural.leftRight?.differencePercent ?? null),
    passes: natural.passes.map((pass) => ({
      id: pass.passId,
      direction: pass.direction,
      used: pass.used,
      setAside: pass.setAside,
      keptDespite: pass.keptDespite ?? null,
      speedMps: Number.isFinite(pass.speedMps) ? pass.speedMps : null,
      stepM: measured(pass.stepM),
      landings: pass.landings.map(({ id, paw, onS, offS, xM, yM, probability, source }) => ({
        id,
        paw,
        onS,
        offS,
        xM,
        yM,
        probability,
        source,
      })),
    })),
  };
}

type Estimated = NonNullable<NaturalStep["stepM"]>;

/** JSON knows no infinity: an open interval is null. */
function measured(estimate: Estimated | null): NaturalFile["stepM"] {
  if (estimate === null || !Number.isFinite(estimate.value)) return null;
  const { value, interval, n } = estimate;
  return { value, interval: interval.every(Number.isFinite) ? interval : null, n };
}
