import type { BodyTrack, PawCandidate } from "./types.ts";

/** All that the landing finder looks at: what was seen in a clip, already in ground coordinates. */
export interface GaitEvidence {
  /** Times of the frames that were looked at, seconds, ascending. */
  frameTimesS: number[];
  candidates: PawCandidate[];
  body: BodyTrack[];
  /** True where growing x runs to the right in the picture: tells the dog's left from its right. */
  xRunsRight: boolean;
}
