import type { StripMark } from "../../charts/cord-strip.ts";
import type { Dog } from "../../store/types.ts";

/** Gaps that differ by less than a tape shows are one. */
const SAME_M = 0.003;

/** The marks that one dog needs: one for an even row, else one for each different gap, numbered as they are met. */
export function marksOf(dog: Dog): StripMark[] {
  const different: number[] = [];
  for (const gap of dog.plan?.layout.gapsM ?? []) {
    if (!different.some((known) => Math.abs(known - gap) < SAME_M)) different.push(gap);
  }
  return different.map((atM, i) => ({
    atM,
    letters: [different.length === 1 ? dog.letters : `${dog.letters}${i + 1}`],
  }));
}
