import { findLandings } from "../gait/landings.ts";
import { fitGround } from "../ground/fit.ts";
import { polesByPass } from "../ground/knocks.ts";
import type { PawNetwork } from "../paws/types.ts";
import { openClip } from "../video/open.ts";
import { ClipError, type ClipReader } from "../video/types.ts";
import type { AnalysisWatch } from "./analyse.ts";
import { type FrameLook, gatherEvidence } from "./evidence.ts";
import { AnalysisError } from "./failure.ts";
import { followCamera } from "./follow-camera.ts";
import { lookThrough, type Stretch } from "./look-through.ts";
import { landingsSoFar } from "./so-far.ts";
import { type AnalysisProgress, type AnalysisRequest, BY_HAND, type ClipAnalysis } from "./types.ts";

/** Fewer frames than this hold no stance. */
const FEWEST_FRAMES = 8;
/** A longer stretch is not analysed in one go: a pass takes seconds, and the person can choose them. */
const LONGEST_S = 180;

/**
 * The one path from a clip to its landings. Runs in a worker or on a page.
 *
 * @throws {AnalysisError} With a sentence that says what is wrong and what to do.
 */
export async function analyseClip(
  request: AnalysisRequest,
  loadNetwork: () => Promise<PawNetwork>,
  watch: AnalysisWatch = {},
): Promise<ClipAnalysis> {
  const begun = performance.now();
  const tell = (stage: AnalysisProgress["stage"], done: number, framesDone = 0, framesTotal = 0) =>
    watch.onProgress?.({ stage, done, framesDone, framesTotal });
  tell("opening", 0);
  let reader: ClipReader | null = null;
  // Fetched and tried while the clip is being opened.
  const loading = request.cameraOnly ? null : loadNetwork();
  loading?.catch(() => {});
  try {
    reader = await openClip(request.file, {
      fileName: request.fileName,
      onFallbackProgress: (done) => tell("opening", 0.3 * done),
      ...(watch.signal ? { signal: watch.signal } : {}),
    });
    const stretch = chooseStretch(reader, request);
    const ground = fitGround(request.marks, reader.facts);
    if (!ground.map) throw new AnalysisError("poles", ground.problems.map((p) => p.sentence).join(" "));
    if (!loading) {
      const { putRightM, ...followed } = await followCamera(
        reader,
        ground.map,
        stretch,
        request.marks,
        watch,
      );
      return {
        version: 1,
        clip: reader.facts,
        marks: request.marks,
        ground,
        ...followed,
        passes: [],
        setAside: [],
        knocks: {},
        warnings: [
          ...reader.facts.warnings,
          ...ground.problems.map((p) => p.sentence),
          ...lostSentences(followed.camera.lost),
          ...driftSentences(putRightM),
        ],
        backend: BY_HAND,
        secondsTaken: (performance.now() - begun) / 1000,
      };
    }
    const network = await loading.catch((error: unknown) => {
      throw new AnalysisError("network", error instanceof Error ? error.message : String(error));
    });
    const onLooks = watch.onLandings && landingsSoFar(ground.map, watch.onLandings);
    const seen = await lookThrough(reader, network, ground.map, stretch, request.marks, {
      ...watch,
      ...(onLooks ? { onLooks } : {}),
    });
    const total = seen.frameTimesS.length;
    if (total < FEWEST_FRAMES) throw tooShort(total);
    tell("landings", 0.97, total, total);
    const evidence = gatherEvidence(seen, ground.map);
    const { passes, setAside } = findLandings(evidence);
    const poles = seen.storyOf(passes);
    tell("landings", 1, total, total);
    return {
      version: 1,
      clip: reader.facts,
      marks: request.marks,
      ground,
      camera: seen.camera,
      registrations: seen.registrations,
      passes,
      setAside,
      dogs: seen.looks.flatMap(({ timeS, sighting }) => (sighting ? [{ timeS, box: sighting.box }] : [])),
      knocks: polesByPass(poles.knocks),
      poles,
      warnings: [
        ...reader.facts.warnings,
        ...ground.problems.map((p) => p.sentence),
        ...lostSentences(seen.camera.lost),
        ...driftSentences(seen.putRightM),
        ...whatIsMissing(seen.looks, passes.length),
      ],
      backend: network.backend,
      secondsTaken: (performance.now() - begun) / 1000,
    };
  } catch (error) {
    throw asAnalysisError(error);
  } finally {
    reader?.close();
    loading?.then((network) => network.dispose()).catch(() => {});
  }
}

function chooseStretch(reader: ClipReader, request: AnalysisRequest): Stretch {
  const { durationS, frameCount } = reader.facts;
  const fromS = Math.max(0, request.fromS ?? 0);
  const toS = Math.min(durationS, request.toS ?? durationS);
  if (frameCount < FEWEST_FRAMES) throw tooShort(frameCount);
  if (!(toS > fromS)) {
    throw new AnalysisError(
      "too-short",
      `The chosen stretch (${fromS.toFixed(1)} s to ${toS.toFixed(1)} s) holds nothing of this clip. Choose it anew.`,
    );
  }
  if (toS - fromS > LONGEST_S) {
    throw new AnalysisError(
      "too-long",
      `${Math.round((toS - fromS) / 60)} minutes are too long to look through at once. ` +
        "Choose the seconds in which the dog crosses the poles, three minutes at most.",
    );
  }
  // The camera is followed from the marked frame to the stretch, and all between them is looked through.
  const { timeS } = request.marks;
  if (Math.max(toS, timeS) - Math.min(fromS, timeS) > LONGEST_S) {
    throw new AnalysisError(
      "poles",
      `The poles are marked on the frame at ${timeS.toFixed(0)} s, minutes away from the chosen stretch. ` +
        "On the Poles step go to a frame of the stretch and take the marks to it.",
    );
  }
  return { fromS, toS };
}

function tooShort(frames: number): AnalysisError {
  const told = frames === 1 ? "one picture" : `${frames} pictures`;
  return new AnalysisError(
    "too-short",
    `This stretch holds only ${told}: too short to see a foot stand and leave. Choose a longer stretch, or film the whole pass.`,
  );
}

/** Shorter losses are no more than a blurred frame, and a stance is seen over them. */
const WORTH_TELLING_S = 0.1;

function lostSentences(lost: readonly [number, number][]): string[] {
  const told = lost.filter(([from, to]) => to - from >= WORTH_TELLING_S);
  if (told.length === 0) return [];
  const stretches = told.map(([from, to]) => `${from.toFixed(1)} to ${to.toFixed(1)} s`).join(", ");
  return [
    `The ground could not be followed while the camera moved (${stretches}): what happened then is left out. Hold the phone steadier, or keep all the poles in the picture.`,
  ];
}

/** A smaller drift is within what a landing's own interval says, metres. */
const DRIFT_WORTH_TELLING_M = 0.03;

function driftSentences(putRightM: number): string[] {
  if (putRightM < DRIFT_WORTH_TELLING_M) return [];
  return [
    `The camera was carried along, and what is behind the row moved against the ground: places were put right by the poles, by up to ${Math.round(100 * putRightM)} cm. Film from one spot next time, turning only.`,
  ];
}

function whatIsMissing(looks: FrameLook[], passes: number): string[] {
  if (passes > 0) return [];
  if (looks.filter((l) => (l.sighting?.dogScore ?? 0) > 0).length < FEWEST_FRAMES) {
    return [
      "No dog was found in this stretch. Is the dog in the picture? You can mark the landings by hand.",
    ];
  }
  return [
    "A dog was seen, but no steady pass over the poles. Choose the seconds of one pass, or mark the landings by hand.",
  ];
}

function asAnalysisError(error: unknown): AnalysisError {
  if (error instanceof AnalysisError) return error;
  if (error instanceof ClipError) {
    return new AnalysisError(error.kind === "cancelled" ? "cancelled" : "clip", error.message);
  }
  if (error instanceof DOMException && error.name === "AbortError") {
    return new AnalysisError("cancelled", "The analysis was stopped.");
  }
  const told = error instanceof Error ? error.message : String(error);
  return new AnalysisError("inside", `Something went wrong inside the analysis: ${told}`);
}
