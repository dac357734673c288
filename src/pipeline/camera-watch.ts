import { IDENTITY } from "../ground/homography.ts";
import type { Crossing, PoleStory } from "../ground/knocks.ts";
import { createRegistrar } from "../ground/registrar.ts";
import type { CameraReport, FrameRegistration, GreyPicture, GroundMap, PoleMarks } from "../ground/types.ts";
import type { Box } from "../paws/types.ts";
import type { Matrix3 } from "../stats/types.ts";
import type { ClipFacts, ClipFrame } from "../video/types.ts";
import { watchPoles } from "./poles.ts";

/** What became of the camera and of the poles over a clip. */
export interface CameraFinding {
  report: CameraReport;
  /** One for each look at the background that was made; empty for a still camera. */
  registrations: FrameRegistration[];
  /** Frame-to-reference map at a time; null where the camera's motion was lost. */
  referenceOf: (at: { timeS: number }) => Matrix3 | null;
  /** How far the background's drift against the ground was put right by the poles, metres. */
  putRightM: number;
  /** What the poles did during the passes. */
  storyOf: (passes: readonly Crossing[]) => PoleStory;
}

export type WatchPoles = (dog: Box | null) => void;

export interface CameraWatch {
  /** Whether the picture stood on the reference frame when last looked at. */
  readonly still: boolean;
  /**
   * Looks at the background, unless it stood still a moment ago.
   *
   * @param dog About where the dog is: it moves by itself.
   * @returns Looks at the poles once it is known where the dog was in this frame.
   */
  see(frame: ClipFrame, dog: Box | null): WatchPoles;
  finish(): CameraFinding;
}

/** A camera that stands is asked this often whether it still does, seconds. */
const STILL_EVERY_S = 0.1;
/** Width of the grey picture in which the background is followed, pixels. */
const BACKGROUND_PX = 512;

/** Follows the background and watches the poles, on a small grey picture of the whole frame. */
export function createCameraWatch(map: GroundMap, marks: PoleMarks, facts: ClipFacts): CameraWatch {
  const width = Math.min(BACKGROUND_PX, facts.widthPx);
  const scale = facts.widthPx / width;
  const height = Math.round(facts.heightPx / scale);
  const whole = { x: 0, y: 0, width: facts.widthPx, height: height * scale };
  const registrar = createRegistrar({ width, height, scale });
  const poleWatch = watchPoles({ map, scale, poleHeightM: marks.poleHeightM }, marks.timeS);
  let still = false;
  let seenS = Number.NEGATIVE_INFINITY;

  return {
    get still() {
      return still;
    },
    see(frame, dog) {
      if (still && frame.timeS - seenS < STILL_EVERY_S - 1e-6) return () => {};
      seenS = frame.timeS;
      const grey: GreyPicture = { data: frame.grey(whole, width, height), width, height };
      const avoid = (box: Box | null) => (box ? [shrunk(box, scale)] : []);
      still = registrar.add(grey, frame.timeS, avoid(dog)).still;
      return (seen) => poleWatch.add(grey, frame.timeS, avoid(seen));
    },
    finish() {
      const followed = registrar.finish(marks.timeS);
      const poles = poleWatch.finish(followed.registrations, followed.report);
      const { registrations, report } = poles;
      const stood = report.kind === "still";
      return {
        report,
        registrations,
        putRightM: poles.putRightM,
        storyOf: poles.story,
        referenceOf: ({ timeS }) => {
          if (stood) return IDENTITY;
          const last = registrations.findLast((r) => r.timeS <= timeS + 1e-6);
          return last?.ok ? last.frameToReference : null;
        },
      };
    },
  };
}

function shrunk(box: Box, scale: number): Box {
  return { x: box.x / scale, y: box.y / scale, width: box.width / scale, height: box.height / scale };
}
