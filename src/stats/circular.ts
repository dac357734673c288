import { chiSquareQuantile } from "./distributions.ts";

/** Mean direction (radians, −π to π) and mean resultant length R (0 to 1) of angles in radians. */
export interface Resultant {
  mean: number;
  r: number;
  /** Sum of the weights. */
  n: number;
}

/**
 * Mean direction and resultant length. The p-th trigonometric moment is the same of p·angles.
 * Mardia KV, Jupp PE. Directional Statistics, 2000, 2.2. Own code: no kept library has weighted circular means.
 */
export function resultant(angles: readonly number[], weights?: readonly number[]): Resultant {
  let c = 0;
  let s = 0;
  let n = 0;
  for (let i = 0; i < angles.length; i++) {
    const w = weights?.[i] ?? 1;
    c += w * Math.cos(angles[i]!);
    s += w * Math.sin(angles[i]!);
    n += w;
  }
  return { mean: Math.atan2(s, c), r: n > 0 ? Math.min(1, Math.hypot(c, s) / n) : 0, n };
}

/** Circular standard deviation √(−2 ln R), radians (Mardia & Jupp, eq. 2.3.11). Infinite at R = 0. */
export function circularSd(r: number): number {
  return Math.sqrt(-2 * Math.log(r));
}

/**
 * Half-width of the interval of a mean direction, radians; null where the data are too spread for one.
 * Zar JH. Biostatistical Analysis, eq. 26.23–26.25 (after Upton 1986).
 */
export function meanHalfWidth({ r, n }: Resultant, level = 0.95): number | null {
  const rn = r * n;
  const chi = chiSquareQuantile(level, 1);
  if (r >= 0.9) return Math.acos(Math.sqrt(n * n - (n * n - rn * rn) * Math.exp(chi / n)) / rn);
  if (r <= Math.sqrt(chi / (2 * n))) return null;
  return Math.acos(Math.sqrt((2 * n * (2 * rn * rn - n * chi)) / (4 * n - chi)) / rn);
}

/**
 * Rayleigh test of "no preferred direction". Three p-formulas are in use and give different digits:
 * - "simple": exp(−z);
 * - "zar": exp(√(1 + 4n + 4(n² − Rn²)) − (1 + 2n)), Zar's Biostatistical Analysis, after Greenwood & Durand 1955;
 * - "series": four-term series of Mardia & Jupp eq. 6.3.6, as in R's CircStats.
 */
export function rayleigh(
  { r, n }: Resultant,
  formula: "simple" | "zar" | "series" = "zar",
): { z: number; p: number } {
  const z = n * r * r;
  return { z, p: Math.min(1, Math.max(0, rayleighP[formula](z, n, r * n))) };
}

const rayleighP = {
  simple: (z: number) => Math.exp(-z),
  zar: (_z: number, n: number, rn: number) =>
    Math.exp(Math.sqrt(1 + 4 * n + 4 * (n * n - rn * rn)) - (1 + 2 * n)),
  series: (z: number, n: number) =>
    Math.exp(-z) *
    (1 + (2 * z - z * z) / (4 * n) - (24 * z - 132 * z ** 2 + 76 * z ** 3 - 9 * z ** 4) / (288 * n * n)),
};

/** The angle brought into −π to π. */
export function wrapAngle(angle: number): number {
  return angle - 2 * Math.PI * Math.round(angle / (2 * Math.PI));
}

/** The fraction brought into −0.5 to 0.5: how far a place is from a target that repeats every 1. */
export function wrapFraction(fraction: number): number {
  return fraction - Math.round(fraction);
}
