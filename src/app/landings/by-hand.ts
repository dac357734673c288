import type { GroundFit, PoleMarks } from "../../ground/types.ts";
import type { ClipAnalysis } from "../../pipeline/types.ts";
import type { ClipFacts } from "../../video/types.ts";
import { byHand } from "../judging.ts";

/** What stands for an analysis where a person does it all: the clip, the poles and the ground, and no landing. */
export function analysisByHand(clip: ClipFacts, marks: PoleMarks, ground: GroundFit): ClipAnalysis {
  return {
    version: 1,
    clip,
    marks,
    ground,
    camera: { kind: "still", largestShiftPx: 0, lost: [] },
    registrations: [],
    passes: [],
    setAside: [],
    knocks: {},
    warnings: ["All landings of this clip were marked by hand; the camera is taken to stand still."],
    backend: byHand,
    secondsTaken: 0,
  };
}
