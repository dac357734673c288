import { IDENTITY } from "../ground/homography.ts";
import type { Crossing, PoleStory } from "../ground/knocks.ts";
import { foreshortening } from "../ground/map.ts";
import type { CameraReport, FrameRegistration, GroundMap, PoleMarks } from "../ground/types.ts";
import type { PawNetwork } from "../paws/types.ts";
import type { ClipFrame, ClipReader, FrameNeed } from "../video/types.ts";
import { createCameraWatch, type WatchPoles } from "./camera-watch.ts";
import type { FrameLook, Sights } from "./evidence.ts";
import { createFollower } from "./follow.ts";
import { paceFor } from "./pace.ts";
import { createGroundStrip } from "./strip.ts";
import type { AnalysisProgress } from "./types.ts";
import { whereabouts } from "./whereabouts.ts";

export interface Stretch {
  fromS: number;
  toS: number;
}

export interface ClipWatch {
  onProgress?: (progress: AnalysisProgress) => void;
  /** The looks made so far, after each of them. */
  onLooks?: (sights: Sights) => void;
  signal?: AbortSignal;
}

/** What was seen in a stretch of a clip. */
export interface Seen extends Sights {
  camera: CameraReport;
  registrations: FrameRegistration[];
  /** See `CameraFinding`. */
  putRightM: number;
  /** What the poles did during the passes. */
  storyOf: (passes: readonly Crossing[]) => PoleStory;
}

/** Looks that may wait for their turn while frames after them are read. */
const MOST_WAITING = 2;

/** What is done with a frame. */
type Use = "look" | "strip" | "camera" | "none";

/**
 * Goes through a stretch: follows the camera and the dog, marks paws, and keeps the ground for the second witness.
 * Frames are read on while the network looks, and what is found does not depend on which of them is faster.
 */
export async function lookThrough(
  reader: ClipReader,
  network: PawNetwork,
  map: GroundMap,
  stretch: Stretch,
  marks: PoleMarks,
  watch: ClipWatch,
): Promise<Seen> {
  const referenceS = marks.timeS;
  const { facts } = reader;
  const where = whereabouts(map, facts, network.inputHeightPx / network.inputPx);
  const follower = createFollower(network, facts, where);
  const strip = createGroundStrip(map, facts);
  const camera = createCameraWatch(map, marks, facts);
  const looks: FrameLook[] = [];
  const frameTimesS: number[] = [];
  // The poles were tapped on a frame that may lie outside the stretch: the camera is followed from there.
  const fromS = Math.min(stretch.fromS, referenceS);
  const toS = Math.max(stretch.toS, referenceS + 0.1);

  const foreshortened = foreshortening(map);
  const uses = new Map<number, Use>();
  // What is due before the middle of the way to the next frame is due now.
  const halfFrameS = 0.51 / facts.meanFps;
  let seenS = Number.NEGATIVE_INFINITY;
  let lookedS = Number.NEGATIVE_INFINITY;
  const purposeOf = (timeS: number): Use => {
    // The frame on which the poles were tapped must be placed itself, not by a neighbour.
    const tapped = Math.abs(timeS - referenceS) < 0.5 / facts.meanFps;
    // Only by answers that are in whichever thread is faster.
    const answered = looks.slice(0, Math.max(0, looks.length - MOST_WAITING));
    const pace = paceFor(answered, { still: camera.still, foreshortening: foreshortened });
    const within = timeS >= stretch.fromS - 1e-6 && timeS <= stretch.toS + 1e-6;
    if (timeS - lookedS > 1 / pace.looks - halfFrameS) {
      lookedS = timeS;
      seenS = timeS;
      return within ? "look" : "camera";
    }
    if (tapped && !camera.still) return "camera";
    if (!within || !camera.still || !strip || timeS - seenS < 1 / pace.strips - halfFrameS / 2) return "none";
    seenS = timeS;
    return "strip";
  };
  const need = (timeS: number): FrameNeed => {
    const use = uses.get(timeS) ?? purposeOf(timeS);
    uses.set(timeS, use);
    return use === "none" ? "nothing" : use === "strip" && strip ? strip.region : "whole";
  };

  let made = 0;
  let turn: Promise<unknown> = Promise.resolve();
  const turns: Promise<unknown>[] = [];
  const look = async (frame: ClipFrame, at: FrameLook, still: boolean, watchPoles: WatchPoles) => {
    try {
      at.sighting = await follower.look(frame, still);
      watchPoles(at.sighting?.box ?? null);
      made++;
      if (watch.onLooks && still) {
        watch.onLooks({ ...onlyLooks(looks.slice(0, made)), motion: null, referenceOf: () => IDENTITY });
      }
    } finally {
      frame.close();
    }
  };

  let first: number | undefined;
  const total = Math.max(1, Math.round((toS - fromS) * facts.meanFps));
  try {
    for await (const frame of reader.frames({
      fromS,
      toS,
      need,
      ...(watch.signal ? { signal: watch.signal } : {}),
    })) {
      const use = uses.get(frame.timeS);
      if (strip?.isFull()) {
        await turn;
        strip.read();
      }
      if (use === "look") {
        const at: FrameLook = { frame: frameTimesS.length, timeS: frame.timeS, sighting: null };
        await turns[looks.length - MOST_WAITING];
        const known = looks[looks.length - MOST_WAITING]?.sighting?.box ?? null;
        const watchPoles = camera.see(frame, known);
        if (camera.still) strip?.add(frame, at);
        frameTimesS.push(frame.timeS);
        looks.push(at);
        const { still } = camera;
        turn = turn.then(() => look(frame, at, still, watchPoles));
        // A failure is dealt with when its turn is awaited.
        turn.catch(() => {});
        turns.push(turn);
        tell(frame.index);
      } else {
        if (use === "camera") {
          const watchPoles = camera.see(frame, null);
          turn = turn.then(() => watchPoles(null));
        } else strip?.add(frame, { frame: frameTimesS.push(frame.timeS) - 1, timeS: frame.timeS });
        frame.close();
      }
    }
    await turn;
  } finally {
    await turn.catch(() => {});
  }
  const { report, registrations, putRightM, referenceOf, storyOf } = camera.finish();
  // Against a background that moves, nothing can be said to stand still.
  const motion = report.kind === "still" ? (strip?.finish() ?? null) : null;
  return {
    ...(motion ? { frameTimesS, looks } : onlyLooks(looks)),
    motion,
    camera: report,
    registrations,
    putRightM,
    referenceOf,
    storyOf,
  };

  function tell(index: number): void {
    first ??= index;
    const framesDone = index - first + 1;
    watch.onProgress?.({
      stage: "paws",
      done: 0.05 + 0.9 * Math.min(1, framesDone / total),
      framesDone,
      framesTotal: Math.max(framesDone, total),
    });
  }
}

/** Without the second witness the frames between looks say nothing, and are no frames. */
function onlyLooks(looks: FrameLook[]): Pick<Seen, "frameTimesS" | "looks"> {
  return {
    frameTimesS: looks.map((look) => look.timeS),
    looks: looks.map((look, frame) => ({ ...look, frame })),
  };
}
