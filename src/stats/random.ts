import { randomLcg } from "d3";

/** Numbers in [0, 1), the same ones for the same seed, so that a verdict read twice is the same verdict. */
export type Random = () => number;

/**
 * d3's linear congruential generator, started from a scrambled seed: streams of neighbouring seeds would otherwise run
 * alongside one another.
 * @param seed any whole number
 */
export function seededRandom(seed: number): Random {
  return randomLcg(scrambled(seed) / 4294967296);
}

/** Finaliser of MurmurHash3 (Appleby A, public domain). */
function scrambled(seed: number): number {
  let h = seed | 0;
  h = Math.imul(h ^ (h >>> 16), 0x85ebca6b);
  h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35);
  return (h ^ (h >>> 16)) >>> 0;
}
