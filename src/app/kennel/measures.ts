import type { DogMeasures, Units } from "../../store/types.ts";
import { length } from "../lengths.ts";

export type MeasureId = keyof DogMeasures;

export interface Measure {
  id: MeasureId;
  /** The letter it has in the drawing. */
  mark: string;
  name: string;
  /** Where the tape goes, on a dog standing square on level ground. */
  tape: string;
  /** What it is used for. */
  use: string;
}

export const MEASURES: readonly Measure[] = [
  {
    id: "withersM",
    mark: "A",
    name: "Floor to withers",
    tape: "Straight up from the floor behind the fore foot to the highest point between the shoulder blades.",
    use: "First spacing at a trot.",
  },
  {
    id: "shoulderM",
    mark: "B",
    name: "Floor to point of shoulder",
    tape: "Straight up to the bony point at the front of the chest, where the upper arm meets the shoulder blade.",
    use: "First spacing at a walk.",
  },
  {
    id: "bodyLengthM",
    mark: "C",
    name: "Nose to tail base",
    tape: "Along the back, head held level, from the tip of the nose to where the tail begins.",
    use: "One pole at a time.",
  },
  {
    id: "elbowM",
    mark: "D",
    name: "Floor to elbow",
    tape: "Straight up to the point of the elbow, behind the fore leg against the chest.",
    use: "Highest pole at a walk; spacing for short legs.",
  },
  {
    id: "carpusM",
    mark: "E",
    name: "Floor to carpus",
    tape: "Up to the pad at the back of the fore leg's wrist.",
    use: "Pole height.",
  },
  {
    id: "hockM",
    mark: "F",
    name: "Floor to hock",
    tape: "Up to the point at the back of the hind leg's ankle.",
    use: "Highest pole at a trot.",
  },
];

export const NO_MEASURES: DogMeasures = {
  shoulderM: null,
  withersM: null,
  bodyLengthM: null,
  elbowM: null,
  carpusM: null,
  hockM: null,
};

/** What can be no length on a dog, as a sentence; null for the rest, however unlikely. */
export function outOfReach(metres: number | null, units: Units): string | null {
  if (metres === null || (metres >= 0.01 && metres <= 2.5)) return null;
  return `That can be no length on a dog. Type ${units === "cm" ? "centimetres" : "inches"}, such as ${length(0.48, units)}.`;
}

export interface Question {
  measures: MeasureId[];
  sentence: string;
}

/**
 * What looks unlikely about a dog's measures, as questions: a dog may be built that way, and a tape may slip.
 * The bounds are wide guesses from how dogs are built (common practice, no source); nothing is refused by them.
 */
export function questionsOn(measures: DogMeasures, units: Units): Question[] {
  const m = measures;
  const questions: Question[] = [];
  const ask = (ids: MeasureId[], sentence: string) => questions.push({ measures: ids, sentence });
  const say = (metres: number) => length(metres, units);

  if (m.withersM !== null && (m.withersM < 0.12 || m.withersM > 1.0)) {
    ask(
      ["withersM"],
      `Withers at ${say(m.withersM)}? Most dogs stand between ${say(0.15)} and ${say(0.9)}. ${inchHint(m.withersM, units)}`,
    );
  }
  if (m.bodyLengthM !== null && (m.bodyLengthM < 0.2 || m.bodyLengthM > 1.7)) {
    ask(
      ["bodyLengthM"],
      `${say(m.bodyLengthM)} from nose to tail base? That would be a very unusual dog. ${inchHint(m.bodyLengthM, units)}`,
    );
  }
  const order: [MeasureId, MeasureId, string][] = [
    ["shoulderM", "withersM", "The point of the shoulder lies below the withers"],
    ["elbowM", "shoulderM", "The elbow lies below the point of the shoulder"],
    ["elbowM", "withersM", "The elbow lies below the withers"],
    ["carpusM", "elbowM", "The carpus lies below the elbow"],
    ["hockM", "withersM", "The hock lies far below the withers"],
  ];
  for (const [low, high, rule] of order) {
    const lower = m[low];
    const upper = m[high];
    if (lower !== null && upper !== null && lower >= upper) {
      ask(
        [low, high],
        `${rule}, but here it is at ${say(lower)} against ${say(upper)}. Were two numbers swapped?`,
      );
    }
  }
  const shares: [MeasureId, number, number, string][] = [
    ["shoulderM", 0.55, 1, "point of the shoulder"],
    ["elbowM", 0.3, 0.7, "elbow"],
    ["carpusM", 0.08, 0.4, "carpus"],
    ["hockM", 0.1, 0.45, "hock"],
  ];
  const withers = m.withersM;
  for (const [id, least, most, name] of shares) {
    const value = m[id];
    if (value === null || withers === null || value >= withers) continue;
    const share = value / withers;
    if (share < least || share > most) {
      ask(
        [id],
        `The ${name} at ${say(value)} is ${share < least ? "low" : "high"} for withers at ${say(withers)}. Is the tape where the drawing shows it?`,
      );
    }
  }
  if (m.bodyLengthM !== null && withers !== null) {
    const ratio = m.bodyLengthM / withers;
    if (ratio < 1 || ratio > 3.2) {
      ask(
        ["bodyLengthM", "withersM"],
        `${say(m.bodyLengthM)} from nose to tail base with withers at ${say(withers)}: please look at both once more.`,
      );
    }
  }
  return questions;
}

/** A length 2.54 times too small or large is often the other unit. */
function inchHint(metres: number, units: Units): string {
  if (units === "cm")
    return metres < 0.4
      ? `If you measured in inches, switch to inches first: ${length(metres, "cm")} would be ${length(metres * 2.54, "cm")}.`
      : "";
  return metres > 1 ? "If you measured in centimetres, switch to centimetres first." : "";
}
