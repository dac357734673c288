import type { Crossing, PoleStory } from "../ground/knocks.ts";
import { createRegistrar } from "../ground/registrar.ts";
import type { CameraReport, FrameRegistration, GroundMap, PoleMarks } from "../ground/types.ts";
import type { Box, PawNetwork } from "../paws/types.ts";
import type { Matrix3 } from "../stats/types.ts";
import type { ClipReader } from "../video/types.ts";
import type { FrameLook } from "./evidence.ts";
import { createFollower } from "./follow.ts";
import { watchPoles } from "./poles.ts";
import { createGroundStrip, type GroundMotion } from "./strip.ts";
import type { AnalysisProgress } from "./types.ts";
import { whereabouts } from "./whereabouts.ts";

export interface Stretch {
  fromS: number;
  toS: number;
}

export interface ClipWatch {
  onProgress?: (progress: AnalysisProgress) => void;
  signal?: AbortSignal;
}

/** What was seen in a stretch of a clip. */
export interface Seen {
  looks: FrameLook[];
  motion: GroundMotion | null;
  camera: CameraReport;
  registrations: FrameRegistration[];
  referenceOf: (look: number) => Matrix3 | null;
  /** What the poles did during the passes. */
  storyOf: (passes: readonly Crossing[]) => PoleStory;
}

/** Nothing in a dog's stance needs more looks a second than this; faster films are thinned. */
const LOOKS_PER_SECOND = 60;
/** Width of the grey picture in which the background is followed, pixels. */
const BACKGROUND_PX = 512;

/** Goes through a stretch frame by frame: follows the camera and the dog, marks paws, keeps the ground for the second witness. */
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
  const follower = createFollower(network, facts, whereabouts(map, facts));
  const strip = createGroundStrip(map, facts);
  const width = Math.min(BACKGROUND_PX, facts.widthPx);
  const scale = facts.widthPx / width;
  const height = Math.round(facts.heightPx / scale);
  const registrar = createRegistrar({ width, height, scale });
  const poleWatch = watchPoles({ map, scale, poleHeightM: marks.poleHeightM }, referenceS);
  const whole = { x: 0, y: 0, width: facts.widthPx, height: height * scale };
  const looks: FrameLook[] = [];
  // The poles were tapped on a frame that may lie outside the stretch: the camera is followed from there.
  const fromS = Math.min(stretch.fromS, referenceS);
  const toS = Math.max(stretch.toS, referenceS + 0.1);
  const total = Math.max(1, Math.round((toS - fromS) * facts.meanFps));
  let frames = 0;
  let lookedS = Number.NEGATIVE_INFINITY;
  let dog: Box | null = null;
  for await (const frame of reader.frames({
    fromS,
    toS,
    ...(watch.signal ? { signal: watch.signal } : {}),
  })) {
    try {
      frames++;
      if (frame.timeS - lookedS < 0.75 / LOOKS_PER_SECOND) continue;
      lookedS = frame.timeS;
      const wanted = frame.timeS >= stretch.fromS - 1e-6 && frame.timeS <= stretch.toS + 1e-6;
      const grey = { data: frame.grey(whole, width, height), width, height };
      const { still } = registrar.add(grey, frame.timeS, dog ? [shrunk(dog, scale)] : []);
      const sighting = wanted ? await follower.look(frame, grey, still) : null;
      dog = sighting?.box ?? null;
      if (still && wanted) strip?.add(frame, looks.length, sighting?.peaks ?? []);
      poleWatch.add(grey, frame.timeS, dog ? [shrunk(dog, scale)] : []);
      looks.push({ timeS: frame.timeS, sighting });
    } finally {
      frame.close();
    }
    if (frames % 5 === 0) {
      watch.onProgress?.({
        stage: "paws",
        done: 0.05 + 0.9 * Math.min(1, frames / total),
        framesDone: frames,
        framesTotal: Math.max(frames, total),
      });
    }
  }
  const followed = registrar.finish(referenceS);
  const poles = poleWatch.finish(followed.registrations, followed.report);
  const { registrations, report } = poles;
  const still = report.kind === "still";
  const unmoved: Matrix3 = [1, 0, 0, 0, 1, 0, 0, 0, 1];
  return {
    looks,
    // Against a background that moves, nothing can be said to stand still.
    motion: still ? (strip?.finish() ?? null) : null,
    camera: report,
    registrations,
    storyOf: poles.story,
    referenceOf: (look) => {
      if (still) return unmoved;
      const registration = registrations[look];
      return registration?.ok ? registration.frameToReference : null;
    },
  };
}

function shrunk(box: Box, scale: number): Box {
  return { x: box.x / scale, y: box.y / scale, width: box.width / scale, height: box.height / scale };
}
