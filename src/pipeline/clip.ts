import { findLandings } from "../gait/landings.ts";
import type { Pass } from "../gait/types.ts";
import { fitGround } from "../ground/fit.ts";
import { createPoleWatch, type Knock } from "../ground/knocks.ts";
import { createRegistrar } from "../ground/registrar.ts";
import type { CameraReport, FrameRegistration, GroundMap, PoleMarks } from "../ground/types.ts";
import type { Box, PawNetwork } from "../paws/types.ts";
import type { Matrix3 } from "../stats/types.ts";
import { openClip } from "../video/open.ts";
import { ClipError, type ClipReader } from "../video/types.ts";
import { type FrameLook, gatherEvidence } from "./evidence.ts";
import { AnalysisError } from "./failure.ts";
import { createFollower } from "./follow.ts";
import { createGroundStrip, type GroundMotion } from "./strip.ts";
import type { AnalysisProgress, AnalysisRequest, ClipAnalysis } from "./types.ts";
import { whereabouts } from "./whereabouts.ts";

export interface ClipWatch {
  onProgress?: (progress: AnalysisProgress) => void;
  signal?: AbortSignal;
}

/** Nothing in a dog's stance needs more looks a second than this; faster films are thinned. */
const LOOKS_PER_SECOND = 60;
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
  watch: ClipWatch = {},
): Promise<ClipAnalysis> {
  const begun = performance.now();
  const tell = (stage: AnalysisProgress["stage"], done: number, framesDone = 0, framesTotal = 0) =>
    watch.onProgress?.({ stage, done, framesDone, framesTotal });
  tell("opening", 0);
  let reader: ClipReader | null = null;
  try {
    reader = await openClip(request.file, {
      fileName: request.fileName,
      onFallbackProgress: (done) => tell("opening", 0.3 * done),
      ...(watch.signal ? { signal: watch.signal } : {}),
    });
    const stretch = chooseStretch(reader, request);
    const ground = fitGround(request.marks, reader.facts);
    if (!ground.map) throw new AnalysisError("poles", ground.problems.map((p) => p.sentence).join(" "));
    const network = await loadNetwork().catch((error: unknown) => {
      throw new AnalysisError("network", error instanceof Error ? error.message : String(error));
    });
    const seen = await lookThrough(reader, network, ground.map, stretch, request.marks, watch);
    const total = seen.looks.length;
    if (total < FEWEST_FRAMES) throw tooShort(total);
    tell("landings", 0.97, total, total);
    const evidence = gatherEvidence(seen.looks, seen.motion, ground.map, seen.referenceOf);
    const { passes, setAside } = findLandings(evidence);
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
      knocks: seen.knocksIn(passes),
      warnings: [
        ...reader.facts.warnings,
        ...ground.problems.map((p) => p.sentence),
        ...whatIsMissing(seen.looks, passes.length),
      ],
      backend: network.backend,
      secondsTaken: (performance.now() - begun) / 1000,
    };
  } catch (error) {
    throw asAnalysisError(error);
  } finally {
    reader?.close();
  }
}

interface Stretch {
  fromS: number;
  toS: number;
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
  return { fromS, toS };
}

function tooShort(frames: number): AnalysisError {
  const told = frames === 1 ? "one picture" : `${frames} pictures`;
  return new AnalysisError(
    "too-short",
    `This stretch holds only ${told}: too short to see a foot stand and leave. Choose a longer stretch, or film the whole pass.`,
  );
}

interface Seen {
  looks: FrameLook[];
  motion: GroundMotion | null;
  camera: CameraReport;
  registrations: FrameRegistration[];
  referenceOf: (look: number) => Matrix3 | null;
  /** Poles that moved, by pass id. */
  knocksIn: (passes: Pass[]) => Record<string, number[]>;
}

/** Width of the grey picture in which the background is followed, pixels. */
const BACKGROUND_PX = 512;

async function lookThrough(
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
  const poleWatch = createPoleWatch({ map, scale, poleHeightM: marks.poleHeightM });
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
      if (still && wanted) {
        strip?.add(frame, looks.length, sighting?.peaks ?? []);
        poleWatch.add(grey, frame.timeS, undefined, dog ? [shrunk(dog, scale)] : []);
      }
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
  const { registrations, report } = registrar.finish(referenceS);
  const still = report.kind === "still";
  const unmoved: Matrix3 = [1, 0, 0, 0, 1, 0, 0, 0, 1];
  return {
    looks,
    // Against a background that moves, nothing can be said to stand still.
    motion: still ? (strip?.finish() ?? null) : null,
    camera: report,
    registrations,
    // Strips across the poles are only comparable while the camera stands.
    knocksIn: (passes) => (still ? byPass(poleWatch.findKnocks(passes)) : {}),
    referenceOf: (look) => {
      if (still) return unmoved;
      const registration = registrations[look];
      return registration?.ok ? registration.frameToReference : null;
    },
  };
}

function byPass(knocks: Knock[]): Record<string, number[]> {
  const poles: Record<string, number[]> = {};
  for (const { passId, pole } of knocks) poles[passId] = [...(poles[passId] ?? []), pole];
  return poles;
}

function shrunk(box: Box, scale: number): Box {
  return { x: box.x / scale, y: box.y / scale, width: box.width / scale, height: box.height / scale };
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
