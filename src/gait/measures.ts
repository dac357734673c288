import type { Gait } from "./types.ts";

const GRAVITY_MPS2 = 9.81;

/** Froude number v²/(g·h), h the hip height in metres; with the height at the withers it is the relative velocity V* squared. */
export function froude(speedMps: number, heightM: number): number {
  return speedMps ** 2 / (GRAVITY_MPS2 * heightM);
}

/** Speed at a Froude number, m/s. Walk turns to trot at about 0.35 (horses: Griffin TM et al. J Exp Biol 2004;207:4215)
 * to 0.5 (quadrupeds: Alexander RMcN, Jayes AS. J Zool 1983;201:135). */
export function speedAtFroude(number: number, heightM: number): number {
  return Math.sqrt(number * GRAVITY_MPS2 * heightM);
}

/** Stride over hip height. */
export function relativeStride(strideM: number, hipHeightM: number): number {
  return strideM / hipHeightM;
}

/** S = v·T, metres. */
export function strideFromSpeed(speedMps: number, strideTimeS: number): number {
  return speedMps * strideTimeS;
}

/** v = 0.25·√g·S^1.67·h^−1.17, m/s: a plausibility check within ±25 %, no more (Alexander RMcN. Nature 1976;261:129). */
export function speedFromStride(strideM: number, hipHeightM: number): number {
  return 0.25 * Math.sqrt(GRAVITY_MPS2) * strideM ** 1.67 * hipHeightM ** -1.17;
}

/** S/h = 2.3·Fr^0.3 (Alexander 1976): the relative stride to expect at a Froude number. */
export function expectedRelativeStride(froudeNumber: number): number {
  return 2.3 * froudeNumber ** 0.3;
}

/** Walk under 2.0 hip heights, trot to 2.9, run beyond (Thulborn RA, Wade M. Mem Queensland Mus 1984;21:413). */
export function gaitClassByStride(relative: number): "walk" | "trot" | "run" {
  if (relative < 2) return "walk";
  return relative <= 2.9 ? "trot" : "run";
}

export type HildebrandSector =
  | "pace"
  | "lateral sequence, lateral couplets"
  | "lateral sequence, single-foot"
  | "lateral sequence, diagonal couplets"
  | "trot"
  | "diagonal sequence, diagonal couplets"
  | "diagonal sequence, single-foot"
  | "diagonal sequence, lateral couplets";

const SECTORS: HildebrandSector[] = [
  "pace",
  "lateral sequence, lateral couplets",
  "lateral sequence, single-foot",
  "lateral sequence, diagonal couplets",
  "trot",
  "diagonal sequence, diagonal couplets",
  "diagonal sequence, single-foot",
  "diagonal sequence, lateral couplets",
];

/**
 * Where a symmetrical gait lies on Hildebrand's diagram: eight sectors of 12.5 % about multiples of 12.5 %.
 * Hildebrand M. Science 1965;150:701 (limits from memory).
 * @param limbPhase fore touch-down after same-side hind touch-down, share of the stride; any whole number may be added
 */
export function hildebrandSector(limbPhase: number): HildebrandSector {
  const phase = limbPhase - Math.floor(limbPhase);
  return SECTORS[Math.floor((phase + 0.0625) * 8) % 8]!;
}

/** What a pass must be measured by to name its gait; null or absent where not measured. */
export interface GaitSigns {
  /** Fore touch-down after same-side hind touch-down, share of the stride. */
  limbPhase: number | null;
  /** Hind stance over stride time; over 0.5 a walking gait, under it a running one. */
  dutyFactor: number | null;
  /** Right hind after left hind touch-down, share of the stride: far from 0.5 = asymmetrical. */
  hindPhase?: number | null;
  speedMps?: number;
}

/** Slower than this a dog stands. Design choice. */
const STANDING_MPS = 0.1;
/** Hind feet this far from taking turns evenly canter or gallop. Design choice: sound dogs trot within 0.01 to 0.05. */
const ASYMMETRY = 0.15;
/** A lateral walk closer coupled than this is called an amble. Hildebrand's sector ends at 0.1875, but dogs at an
 * ordinary walk lie at 0.15 to 0.20 (from memory), so the line is drawn below them. */
const AMBLE_BELOW = 0.15;
const AMBLE_FROM = 0.0625;
const WALK_TO = 0.4375;
/** A trot's fore foot is often seen early: a motion-captured dog trots at 0.43 to 0.46. With feet in the air (duty under
 * 0.5) all diagonal couplets are therefore called trot. */
const RUNNING_TROT_FROM = 0.3125;
const RUNNING_TROT_TO = 0.6875;

/** The gait in the trade's words; "unclear" where the signs are missing or fit no dog's gait. */
export function nameGait({ limbPhase, dutyFactor, hindPhase, speedMps }: GaitSigns): Gait {
  if (speedMps !== undefined && Math.abs(speedMps) < STANDING_MPS) return "standing";
  if (hindPhase !== undefined && hindPhase !== null && awayFrom(hindPhase, 0.5) > ASYMMETRY) return "canter";
  if (limbPhase === null) return "unclear";
  const phase = limbPhase - Math.floor(limbPhase);
  if (phase < AMBLE_FROM || phase >= 1 - AMBLE_FROM) return "pace";
  const running = dutyFactor !== null && dutyFactor < 0.5;
  if (running && phase >= RUNNING_TROT_FROM && phase < RUNNING_TROT_TO) return "trot";
  if (phase < AMBLE_BELOW) return "amble";
  if (phase < WALK_TO) return running ? "unclear" : "walk";
  return hildebrandSector(phase) === "trot" ? "trot" : "unclear";
}

function awayFrom(phase: number, target: number): number {
  const apart = phase - target;
  return Math.abs(apart - Math.round(apart));
}
