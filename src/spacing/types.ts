import type { Landing, Pass } from "../gait/types.ts";
import type { Estimate } from "../stats/types.ts";

export type AimId =
  | "first-poles"
  | "one-at-a-time"
  | "even-loading"
  | "longer-reach"
  | "higher-lift"
  | "careful-feet";

export type PoleGait = "walk" | "trot";

/** A row of poles on the ground. */
export interface Layout {
  /** Distance from each pole to the next, metres. */
  gapsM: number[];
  /** Height of each pole's top above the ground, metres. */
  heightsM: number[];
  /** Where a hind foot should land in each gap, 0 to 1 (0.5 = middle). */
  targetFractions: number[];
  /** Turn of each pole about its middle, degrees, positive counter-clockwise from above; all straight when left out. */
  anglesDeg?: number[] | undefined;
}

/** A landing with its place in the row. */
export interface PlacedLanding extends Landing {
  passId: string;
  /** Index into gapsM, from 0 at the first pole; null outside the row. */
  gap: number | null;
  /** Along x, from the middle of its gap, metres; null outside the row. */
  offsetM: number | null;
  /** (x − x of the gap's lower-x pole) / gap, 0 to 1; null outside the row. */
  gapFraction: number | null;
  /** Before the first pole met, within the row, or after the last pole, in the direction of travel. */
  place: "approach" | "row" | "leaving";
}

export interface PassJudgement {
  passId: string;
  direction: 1 | -1;
  used: boolean;
  /** Why the pass does not count, a sentence; null when used. */
  setAside: string | null;
  /** Why it would not count, had a person not kept it in; null or missing where nobody had to. */
  keptDespite?: string | null | undefined;
  landings: PlacedLanding[];
  /** Hind step in the row, metres; null under 3 hind landings. */
  stepM: Estimate | null;
  /** Hind step on the approach, metres. */
  approachStepM: Estimate | null;
  /** Change of offset from gap to gap in the direction of travel, metres. */
  creepMPerGap: Estimate | null;
  /** Circular standard deviation of the gap fraction after creep is removed (share of a gap). */
  scatter: number | null;
  /** Circular mean of the gap fraction, counted in the direction of travel. */
  meanFraction: number | null;
  /** Hind landings in each gap. */
  hindPerGap: number[];
  /** Poles (index) that moved during the pass. */
  knocks: number[];
  /** The same by the gap that the dog entered over them. Absent in judgements kept before it was counted. */
  knocksPerGap?: number[] | undefined;
  speedMps: number;
}

export type VerdictKind =
  | "fits"
  | "fits-move-start"
  | "too-close"
  | "too-far"
  | "two-steps"
  | "stepped-over"
  | "not-steady"
  | "cannot-tell";

export interface Verdict {
  kind: VerdictKind;
  /** One plain sentence for a person. */
  sentence: string;
  /** The evidence in one plain sentence. */
  evidence: string;
  /** The spacing to lay next, metres, already limited and rounded; null when none can be read. */
  spacingM: number | null;
  /** 95 % interval of the spacing that would fit, metres. */
  intervalM: [number, number] | null;
  /** The spacing that would fit by these landings, before limits and rounding, metres; null when none can be read. */
  fitSpacingM?: number | null;
  /** How far to move the start, metres (positive = farther from the first pole); null when not asked for. */
  moveStartM: number | null;
  /** 0 to 1: share of resamples that give this verdict. */
  confidence: number;
  /** Ids of the landings it rests on. */
  restsOn: string[];
  /** What to do and look for next time. */
  nextTime: string;
  /** Only when nothing can be told yet: about how many more passes like these would settle it; null when very many. */
  morePasses?: number | null;
}

/** Everything that screen, report and JSON say about a session: one object, nothing worked out elsewhere. */
export interface Judgement {
  verdict: Verdict;
  passes: PassJudgement[];
  /** Pooled over used passes. */
  stepM: Estimate | null;
  creepMPerGap: Estimate | null;
  scatter: number | null;
  meanFraction: number | null;
  speedMps: Estimate | null;
  leftRight: { differencePercent: Estimate; smallestRealPercent: number; sentence: string } | null;
  ownStep: { approachStepM: Estimate; rowStepM: Estimate; stretchPercent: Estimate; sentence: string } | null;
  /** Warnings worth a sentence each (fatigue over passes, speed drift, doubtful landings, knocks). */
  notes: string[];
}

/** What a person decided about one pass, whatever the program thinks of it. */
export interface PassDecision {
  use: boolean;
  /** Why, as typed or chosen; may be empty. */
  reason: string;
}

export interface JudgeRequest {
  layout: Layout;
  passes: Pass[];
  aim: AimId;
  gait: PoleGait;
  /** Poles knocked in each pass, by pass id. */
  knocks?: Record<string, number[]> | undefined;
  /** Passes kept in or set aside by a person, by pass id; the program decides about the others. */
  decisions?: Record<string, PassDecision> | undefined;
  /**
   * How far each pole lay from its laid place when the dog came to it, metres along x, by pass id; passes that faced the
   * row as it was laid are left out. Offsets count in the row that the dog faced; steps do not depend on it.
   */
  movedM?: Record<string, number[]> | undefined;
  /**
   * How well lengths along the row are known in each pass's clip, as a share (standard error): common to all its
   * landings, so more of them do not make it smaller. Perfectly where left out.
   */
  scaleSe?: Record<string, number> | undefined;
  /** Body length, nose to tail base, metres: needed by the aim "one-at-a-time". */
  bodyLengthM?: number | undefined;
  units?: "cm" | "in" | undefined;
}
