import type { AimId, PoleGait } from "./types.ts";

/** What an aim asks of the row and of the dog. Names and words are this project's own. */
export interface Aim {
  id: AimId;
  name: string;
  /** Whom it is for, in a few words. */
  who: string;
  /** One hind landing in each gap, or all four feet in each gap. */
  regime: "one-hind-per-gap" | "all-feet-per-gap";
  gaits: PoleGait[];
  /** Spacing against the dog's own step: where to begin, and how far the aim goes. Body length for all-feet rows. */
  spacing: { of: "step" | "body-length"; start: number; goal: number };
  /** Change between two levels of the ladder, as a share of the step. */
  rung: number;
  rows: "even" | "uneven";
  height: {
    rule: string;
    /** Share of the height of a body landmark; the lowest poles at hand when null. */
    start: { of: "carpus"; share: number } | null;
    goal: { of: "carpus" | "mid-forearm"; share: number } | null;
  };
  /** What a good pass looks like. */
  goodPass: string;
  /** What to look for next time when the spacing fits. */
  lookFor: string;
}

/**
 * One row an aim. Factors and heights are common practice, no source, unless a note says otherwise: half the carpus
 * height and "two steps between poles is the limit" for longer reach, and the ceilings of hock (trot) and elbow (walk),
 * are textbook and clinical guidance (Zink MC, Van Dyke JB, eds. Canine Sports Medicine and Rehabilitation, 2nd ed., p. 193).
 */
export const aims: Record<AimId, Aim> = {
  "first-poles": {
    id: "first-poles",
    name: "First poles",
    who: "every beginner",
    regime: "one-hind-per-gap",
    gaits: ["walk", "trot"],
    spacing: { of: "step", start: 1, goal: 1 },
    rung: 0,
    rows: "even",
    height: { rule: "On the ground, or the lowest there is.", start: null, goal: null },
    goodPass: "No knocks, one hind landing near the middle of every gap.",
    lookFor: "Keep this spacing until three passes in a row are free of knocks.",
  },
  "one-at-a-time": {
    id: "one-at-a-time",
    name: "One pole at a time",
    who: "weak, old or neurologic dogs",
    regime: "all-feet-per-gap",
    gaits: ["walk"],
    spacing: { of: "body-length", start: 1.5, goal: 1.5 },
    rung: 0,
    rows: "even",
    height: { rule: "The lowest there is.", start: null, goal: null },
    goodPass: "All four feet set down in every gap, no stumble, no hurry.",
    lookFor: "Give it time at every pole; stop at the first stumble.",
  },
  "even-loading": {
    id: "even-loading",
    name: "Even loading",
    who: "dogs that spare a leg after an injury",
    regime: "one-hind-per-gap",
    gaits: ["walk", "trot"],
    spacing: { of: "step", start: 1, goal: 1.08 },
    rung: 0.02,
    rows: "even",
    height: { rule: "Low.", start: null, goal: { of: "carpus", share: 0.5 } },
    goodPass: "Longer, equal steps and stance on the left and the right.",
    lookFor: "Watch whether the left/right difference of the step shrinks.",
  },
  "longer-reach": {
    id: "longer-reach",
    name: "Longer reach",
    who: "show and sport dogs",
    regime: "one-hind-per-gap",
    gaits: ["walk", "trot"],
    spacing: { of: "step", start: 1, goal: 1.15 },
    rung: 0.03,
    rows: "even",
    height: {
      rule: "Low: half the height of the carpus.",
      start: { of: "carpus", share: 0.5 },
      goal: { of: "carpus", share: 0.5 },
    },
    goodPass: "Still one hind landing in every gap. Two in a gap: past the limit.",
    lookFor: "Watch for a second step creeping into a gap: that is the limit.",
  },
  "higher-lift": {
    id: "higher-lift",
    name: "Higher lift",
    who: "kneecap that slips, weak thigh, stiff stifle, hock or carpus",
    regime: "one-hind-per-gap",
    gaits: ["walk", "trot"],
    spacing: { of: "step", start: 0.95, goal: 0.85 },
    rung: 0.03,
    rows: "even",
    height: {
      rule: "Carpus to mid-forearm; at the trot never above the hock, at the walk never above the elbow.",
      start: { of: "carpus", share: 1 },
      goal: { of: "mid-forearm", share: 1 },
    },
    goodPass: "Clean, high steps without hopping.",
    lookFor: "If it hops or knocks, lower the poles before you change the spacing.",
  },
  "careful-feet": {
    id: "careful-feet",
    name: "Careful feet",
    who: "dogs that learn where their feet are, and athletes",
    regime: "one-hind-per-gap",
    gaits: ["walk", "trot"],
    spacing: { of: "step", start: 1, goal: 1 },
    rung: 0.05,
    rows: "uneven",
    height: {
      rule: "Mixed: low poles and some up to the carpus.",
      start: null,
      goal: { of: "carpus", share: 1 },
    },
    goodPass: "Different feet find different places without a knock.",
    lookFor: "Change one gap at a time; each gap has its own target.",
  },
};

/** Hind landings that an aim expects in each gap. */
export function hindPerGap(aim: AimId): 1 | 2 {
  return aims[aim].regime === "all-feet-per-gap" ? 2 : 1;
}
