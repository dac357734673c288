import type { CameraReport, FrameRegistration, GroundMap, PoleMarks } from "../ground/types.ts";
import type { ClipReader } from "../video/types.ts";
import type { AnalysisWatch } from "./analyse.ts";
import { createCameraWatch } from "./camera-watch.ts";
import type { Stretch } from "./look-through.ts";

/** Looks at the background a second: a hand does not shake faster. */
const LOOKS_PER_SECOND = 30;

/** Follows the camera alone through a stretch, for a clip whose landings a person marks. */
export async function followCamera(
  reader: ClipReader,
  map: GroundMap,
  stretch: Stretch,
  marks: PoleMarks,
  watch: AnalysisWatch,
): Promise<{ camera: CameraReport; registrations: FrameRegistration[]; putRightM: number }> {
  const camera = createCameraWatch(map, marks, reader.facts);
  // The frame on which the poles were tapped may lie outside the stretch.
  const fromS = Math.min(stretch.fromS, marks.timeS);
  const toS = Math.max(stretch.toS, marks.timeS + 0.1);
  const tapped = (timeS: number) => Math.abs(timeS - marks.timeS) < 0.5 / reader.facts.meanFps;
  const wanted = new Set<number>();
  let seenS = Number.NEGATIVE_INFINITY;
  const frames = reader.frames({
    fromS,
    toS,
    need: (timeS) => {
      if (timeS - seenS < 0.75 / LOOKS_PER_SECOND && !tapped(timeS)) return "nothing";
      seenS = timeS;
      wanted.add(timeS);
      return "whole";
    },
    ...(watch.signal ? { signal: watch.signal } : {}),
  });
  const total = Math.max(1, Math.round((toS - fromS) * LOOKS_PER_SECOND));
  let done = 0;
  for await (const frame of frames) {
    if (wanted.has(frame.timeS)) {
      camera.see(frame, null)(null);
      done++;
      watch.onProgress?.({
        stage: "camera",
        done: 0.05 + 0.95 * Math.min(1, done / total),
        framesDone: done,
        framesTotal: Math.max(done, total),
      });
    }
    frame.close();
  }
  const { report, registrations, putRightM } = camera.finish();
  return { camera: report, registrations, putRightM };
}
