import { randomLcg } from "d3";

/** Numbers in [0, 1), the same ones for the same seed, so that a verdict read twice is the same verdict. */
export type Random = () => number;

/** @param seed any whole number. d3's linear congruential generator. */
export function seededRandom(seed: number): Random {
  return randomLcg((Math.abs(Math.trunc(seed)) % 4294967296) / 4294967296);
}
