import { io } from "@tensorflow/tfjs-core";
import * as poseDetection from "@tensorflow-models/pose-detection";
import { ALL_FORMATS, BlobSource, Input, VideoSampleSink } from "mediabunny";
import type { Pass } from "../../../src/gait/types.ts";
import type { PoleMarks } from "../../../src/ground/types.ts";
import { switchBackend } from "../../../src/paws/backend.ts";
import { analyseInWorker } from "../../../src/pipeline/analyse.ts";
import { exportClip } from "../../../src/report/annotated-clip.ts";
import { exportFramesZip } from "../../../src/report/frames.ts";
import { judge } from "../../../src/spacing/judge.ts";
import { openClip } from "../../../src/video/open.ts";
import type { Done, Task } from "./worker.ts";

const chosen = (id: string) => [...((document.getElementById(id) as HTMLInputElement).files ?? [])];

function clip(): File {
  const [file] = chosen("clip");
  if (!file) throw new Error("No clip was given.");
  return file;
}

/** Each run in a worker of its own, as the app does it. */
function inWorker(task: Omit<Task, "id">): Promise<Done> {
  return new Promise((resolve, reject) => {
    const worker = new Worker(new URL("./worker.ts", import.meta.url), { type: "module" });
    worker.onmessage = ({ data }: MessageEvent<Done>) => {
      worker.terminate();
      resolve(data);
    };
    worker.onerror = (event) => reject(new Error(event.message));
    worker.postMessage({ id: 1, ...task });
  });
}

const decode = () => inWorker({ kind: "decode", file: clip() } as Task);
const path = (marks: PoleMarks, ready: boolean) =>
  inWorker({ kind: "path", file: clip(), marks, ready } as Task);

/** The usual parts: each frame drawn on a canvas and given to pose-detection, up to `most` frames. */
async function usual(most: number): Promise<{ seconds: number; frames: number }> {
  await switchBackend("wasm");
  const detector = await poseDetection.createDetector(poseDetection.SupportedModels.MoveNet, {
    modelType: poseDetection.movenet.modelType.SINGLEPOSE_LIGHTNING,
    modelUrl: io.browserFiles(chosen("movenet")),
  });
  const input = new Input({ source: new BlobSource(clip()), formats: ALL_FORMATS });
  const track = await input.getPrimaryVideoTrack();
  if (!track) throw new Error("The clip has no video.");
  const canvas = document.getElementById("picture") as HTMLCanvasElement;
  canvas.width = await track.getDisplayWidth();
  canvas.height = await track.getDisplayHeight();
  const context = canvas.getContext("2d", { willReadFrequently: true });
  if (!context) throw new Error("No canvas.");
  let frames = 0;
  let begun = 0;
  for await (const sample of new VideoSampleSink(track).samples()) {
    sample.draw(context, 0, 0, canvas.width, canvas.height);
    sample.close();
    await detector.estimatePoses(canvas);
    // The first ones pay for getting ready.
    if (++frames === WARM_UP) begun = performance.now();
    if (frames === WARM_UP + most) break;
  }
  const seconds = (performance.now() - begun) / 1000;
  detector.dispose();
  input.dispose();
  return { seconds, frames: frames - WARM_UP };
}

const WARM_UP = 3;

/** Marked MP4 and marked PNG pictures of the clip: seconds, and the seconds of film written. */
async function exports(
  marks: PoleMarks,
): Promise<{ mp4S: number; filmS: number; zipS: number; pictures: number }> {
  const file = clip();
  const analysis = await analyseInWorker({ file, fileName: file.name, marks });
  const layout = {
    gapsM: marks.gapsM,
    heightsM: marks.poles.map(() => 0),
    targetFractions: marks.gapsM.map(() => 0.5),
  };
  const judgement = judge({ layout, passes: analysis.passes, aim: "first-poles", gait: "trot", knocks: {} });
  const reader = await openClip(file, { fileName: file.name });
  try {
    const landings = judgement.passes.flatMap((pass) => pass.landings);
    const [fromS, toS] = [0, Math.min(10, analysis.clip.durationS)];
    let begun = performance.now();
    await exportClip(reader, analysis, judgement, { fromS, toS });
    const mp4S = (performance.now() - begun) / 1000;
    begun = performance.now();
    await exportFramesZip(reader, analysis, judgement);
    return { mp4S, filmS: toS - fromS, zipS: (performance.now() - begun) / 1000, pictures: landings.length };
  } finally {
    reader.close();
  }
}

const speed = { decode, path, usual, exports };
export type SpeedPage = typeof speed;
export type { Pass };

Object.assign(globalThis, { speed });
