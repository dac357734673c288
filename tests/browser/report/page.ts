import type { Truth } from "../../../fixtures/studio/truth.ts";
import { groundToImage } from "../../../src/ground/map.ts";
import { exportClip } from "../../../src/report/annotated-clip.ts";
import { exportFramesZip, reportFrames } from "../../../src/report/frames.ts";
import { renderReport } from "../../../src/report/report.ts";
import { judge } from "../../../src/spacing/judge.ts";
import { openClip } from "../../../src/video/open.ts";
import { trueAnalysis, trueLayout } from "./truth-passes.ts";

/** A fixture clip whose passes are its truth: the exports are under test here, not the finding of landings. */
async function open(clipUrl: string, truth: Truth) {
  const film = await (await fetch(clipUrl)).blob();
  const reader = await openClip(film, { fileName: truth.file });
  const analysis = trueAnalysis(truth, reader.facts);
  const { passes } = analysis;
  const layout = trueLayout(truth);
  const judgement = judge({ layout, passes, aim: "first-poles", gait: truth.gait });
  return { reader, analysis, judgement, layout, passes };
}

async function report(clipUrl: string, truth: Truth): Promise<string> {
  const { reader, analysis, judgement, layout } = await open(clipUrl, truth);
  const frames = await reportFrames(reader, analysis, judgement);
  reader.close();
  return renderReport({
    judgement,
    analyses: [analysis],
    layout,
    dog: { name: truth.dog },
    session: { date: Date.UTC(2026, 2, 14, 10), gait: truth.gait, aim: "first-poles" },
    practitioner: { name: "", practice: "Millbrook Dog Gym" },
    cautions: [],
    units: "cm",
    frames,
  });
}

/** The zip of pictures as base64, and where each landing of the first pass should be seen in them. */
async function frames(clipUrl: string, truth: Truth) {
  const { reader, analysis, judgement, passes } = await open(clipUrl, truth);
  const progress: number[] = [];
  const zip = await exportFramesZip(reader, analysis, judgement, {
    onProgress: (done) => progress.push(done),
    maxWidthPx: 960,
  });
  reader.close();
  const map = analysis.ground.map!;
  const places = passes[0]!.landings.map((landing) => ({
    paw: landing.paw,
    timeS: (landing.onS + landing.offS) / 2,
    at: groundToImage(map, landing),
  }));
  return { zip: await base64(zip), progress, places, residuals: analysis.ground.residuals };
}

async function film(clipUrl: string, truth: Truth) {
  const { reader, analysis, judgement } = await open(clipUrl, truth);
  const progress: number[] = [];
  const blob = await exportClip(reader, analysis, judgement, {
    onProgress: (done) => progress.push(done),
    maxWidthPx: 640,
    fromS: 1,
    toS: 2,
  });
  const times = (await reader.frameTimes()).filter((time) => time >= 1 && time <= 2);
  reader.close();
  const again = await openClip(blob, { fileName: "marked.mp4" });
  const written = { facts: again.facts, timesS: await again.frameTimes() };
  again.close();
  return { type: blob.type, bytes: blob.size, progress, times, ...written };
}

/** Stops an export half-way and says how it ended. */
async function stopped(clipUrl: string, truth: Truth, what: "frames" | "film"): Promise<string> {
  const { reader, analysis, judgement } = await open(clipUrl, truth);
  const stop = new AbortController();
  const options = {
    signal: stop.signal,
    onProgress: (done: number) => {
      if (done > 0.2) stop.abort();
    },
  };
  try {
    await (what === "frames" ? exportFramesZip : exportClip)(reader, analysis, judgement, options);
    return "finished";
  } catch (error) {
    return stop.signal.aborted && error instanceof Error ? error.name : `failed: ${error}`;
  } finally {
    reader.close();
  }
}

async function nothingFound(clipUrl: string, truth: Truth): Promise<string[]> {
  const { reader, analysis } = await open(clipUrl, truth);
  const sentences: string[] = [];
  for (const make of [exportFramesZip, exportClip]) {
    try {
      await make(reader, analysis, { passes: [] });
    } catch (error) {
      sentences.push((error as Error).message);
    }
  }
  reader.close();
  return sentences;
}

async function base64(blob: Blob): Promise<string> {
  const reader = new FileReader();
  return new Promise((resolve, reject) => {
    reader.onload = () => resolve(String(reader.result).replace(/^.*?,/, ""));
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(blob);
  });
}

const exportsPage = { report, frames, film, stopped, nothingFound };
export type ExportsPage = typeof exportsPage;

Object.assign(globalThis, { exportsPage });
