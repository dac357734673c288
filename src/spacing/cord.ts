import { lengthText, type Units } from "./lengths.ts";

/** A dog's place on the shared cord. */
export interface CordDog {
  letters: string;
  gapsM: readonly number[];
}

export interface CordMark {
  /** Distance from the end of the cord, metres. */
  atM: number;
  /** One entry a dog, with a number where its row has several different gaps. */
  letters: string[];
}

/** Gaps that differ by less than a tape shows share a mark. */
const SAME_M = 0.005;
/** Marks nearer than this are easily taken for one another. */
const NEAR_M = 0.02;

/** One cord for all dogs: marks in order, those at one place merged, those too near named in a sentence. */
export function cordMarks(
  dogs: readonly CordDog[],
  units: Units = "cm",
): { marks: CordMark[]; warnings: string[] } {
  const single = dogs.flatMap(ownMarks).sort((a, b) => a.atM - b.atM);
  const marks: CordMark[] = [];
  for (const { atM, letters } of single) {
    const last = marks[marks.length - 1];
    if (last && atM - last.atM < SAME_M) last.letters.push(letters);
    else marks.push({ atM, letters: [letters] });
  }
  const warnings: string[] = [];
  for (let i = 1; i < marks.length; i++) {
    const apart = marks[i]!.atM - marks[i - 1]!.atM;
    if (apart >= NEAR_M - 1e-9) continue;
    warnings.push(
      `${marks[i - 1]!.letters.join(", ")} and ${marks[i]!.letters.join(", ")} lie only ${lengthText(apart, units)} apart on the cord: use two colours.`,
    );
  }
  return { marks, warnings };
}

function ownMarks({ letters, gapsM }: CordDog): { atM: number; letters: string }[] {
  const different: number[] = [];
  for (const gap of gapsM) {
    if (!different.some((known) => Math.abs(known - gap) < SAME_M)) different.push(gap);
  }
  return different.map((atM, i) => ({
    atM,
    letters: different.length === 1 ? letters : `${letters}${i + 1}`,
  }));
}
