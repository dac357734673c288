import { zipSync } from "fflate";
import { fitGround } from "../../ground/fit.ts";
import type { ClipAnalysis } from "../../pipeline/types.ts";
import { toLandingsCsv } from "../../report/landings-csv.ts";
import { type ResultFile, toResultJson } from "../../report/result.ts";
import type { ClipReader } from "../../video/types.ts";
import { keeper } from "../keeper.ts";
import type { ReportClip, ReportMatter } from "./matter.ts";

/** "juniper-2026-03-14": safe on every file system. */
export function fileStem({ session, dog }: Pick<ReportMatter, "session" | "dog">): string {
  const name = (dog?.name ?? session.dogName)
    .normalize("NFKD")
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-+|-+$/g, "")
    .slice(0, 40);
  const date = new Date(session.date);
  const day = [date.getFullYear(), date.getMonth() + 1, date.getDate()]
    .map((part) => String(part).padStart(2, "0"))
    .join("-");
  return [name || "session", day].join("-");
}

/** Hands a file to the browser's downloads. */
export function download(body: Blob, name: string): void {
  const url = URL.createObjectURL(body);
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  // Long after the browser has taken the file: some begin a download late.
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}

/** Opens the film of a clip for as long as `use` takes. Rejects with a sentence when it is not on this device. */
export async function withFilm<T>(
  { record }: ReportClip,
  signal: AbortSignal,
  use: (reader: ClipReader) => Promise<T>,
): Promise<T> {
  const film = await (await keeper()).getClipBlob(record.id);
  if (!film) {
    throw new Error(
      `The film “${record.fileName}” is not kept on this device any more. Open the clip, pick the same film again, then export.`,
    );
  }
  const { openClip } = await import("../../video/open.ts");
  const reader = await openClip(film, { fileName: record.fileName, signal });
  try {
    return await use(reader);
  } finally {
    reader.close();
  }
}

/** The analysis of a clip; for one marked wholly by hand, what its film and its taps say. */
export function analysisOf({ record, analysis }: ReportClip, reader: ClipReader): ClipAnalysis {
  if (analysis) return analysis;
  const marks = record.marks ?? { timeS: 0, poles: [], gapsM: [] };
  return {
    version: 1,
    clip: reader.facts,
    marks,
    ground: fitGround(marks, reader.facts),
    camera: { kind: "still", largestShiftPx: 0, lost: [] },
    registrations: [],
    passes: [],
    setAside: [],
    knocks: {},
    warnings: ["All landings of this clip were marked by hand; the camera is taken to stand still."],
    backend: "none",
    secondsTaken: 0,
  };
}

export async function resultFiles(matter: ReportMatter, signal: AbortSignal): Promise<ResultFile[]> {
  const files: ResultFile[] = [];
  for (const clip of matter.clips) {
    const write = (analysis: ClipAnalysis) =>
      toResultJson({ analysis, passes: clip.passes, judgement: clip.judgement, layout: matter.layout });
    files.push(
      clip.analysis
        ? write(clip.analysis)
        : await withFilm(clip, signal, async (reader) => write(analysisOf(clip, reader))),
    );
  }
  return files;
}

export async function csvFile(matter: ReportMatter, signal: AbortSignal): Promise<File> {
  const csv = toLandingsCsv(await resultFiles(matter, signal));
  return new File([csv], `${fileStem(matter)}-landings.csv`, { type: "text/csv" });
}

/** One clip: its JSON. Several: a zip of one JSON a clip. */
export async function jsonFile(matter: ReportMatter, signal: AbortSignal): Promise<File> {
  const results = await resultFiles(matter, signal);
  const stem = fileStem(matter);
  const [only] = results;
  if (only && results.length === 1) {
    return new File([JSON.stringify(only, null, 2)], `${stem}-result.json`, { type: "application/json" });
  }
  const encoder = new TextEncoder();
  const entries = results.map((result, i): [string, Uint8Array] => [
    `${stem}-clip-${i + 1}-result.json`,
    encoder.encode(JSON.stringify(result, null, 2)),
  ]);
  return new File([zipSync(Object.fromEntries(entries)) as BlobPart], `${stem}-results.zip`, {
    type: "application/zip",
  });
}
