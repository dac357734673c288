import { Zip, ZipPassThrough } from "fflate";
import { signedLengthText, type Units } from "../charts/lengths.ts";
import { isHind, PAW_LOOKS } from "../charts/marks.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import type { Judgement, PassJudgement, PlacedLanding } from "../spacing/types.ts";
import type { ClipReader } from "../video/types.ts";
import { drawOverlay } from "./overlay.ts";

export interface ExportOptions {
  signal?: AbortSignal | undefined;
  /** 0 to 1. */
  onProgress?: ((done: number) => void) | undefined;
  units?: Units | undefined;
  /** Pictures wider than this are made smaller. */
  maxWidthPx?: number | undefined;
}

/** What the pictures of a clip need besides the film. */
export type Seen = Pick<ClipAnalysis, "clip" | "ground" | "marks" | "registrations">;

interface Moment {
  pass: PassJudgement;
  passNumber: number;
  landing: PlacedLanding;
  /** In the middle of the stance. */
  timeS: number;
}

/**
 * A zip of PNG pictures, one for each landing in the middle of its stance, with poles, gaps and landings drawn in.
 * The judgement must hold passes of this clip only. Without a map of the ground the pictures stay plain.
 * @throws Error with a sentence when there is no landing; the signal's reason when aborted.
 */
export async function exportFramesZip(
  reader: ClipReader,
  analysis: Seen,
  judgement: Pick<Judgement, "passes">,
  options: ExportOptions = {},
): Promise<Blob> {
  const { signal, onProgress } = options;
  const moments = momentsOf(judgement.passes);
  if (moments.length === 0) {
    throw new Error("There is no landing to picture. Find or place landings first, then export again.");
  }
  // Each finished part becomes a Blob, which the browser may keep outside of memory.
  const parts: Blob[] = [];
  let failed: Error | null = null;
  const zip = new Zip((error, bytes) => {
    if (error) failed = error;
    else parts.push(new Blob([bytes as BlobPart]));
  });
  for (const [i, moment] of moments.entries()) {
    signal?.throwIfAborted();
    const canvas = await annotatedPicture(reader, analysis, moment, options);
    const picture = await canvas.convertToBlob({ type: "image/png" });
    // PNG is packed already: stored as it is.
    const entry = new ZipPassThrough(frameName(moment));
    zip.add(entry);
    entry.push(new Uint8Array(await picture.arrayBuffer()), true);
    if (failed) throw failed;
    onProgress?.((i + 1) / moments.length);
  }
  zip.end();
  if (failed) throw failed;
  return new Blob(parts, { type: "application/zip" });
}

/**
 * A few small pictures for the report: the hind landings in the row of the first pass that counts.
 * Empty where the ground has no map or nothing landed.
 */
export async function reportFrames(
  reader: ClipReader,
  analysis: Seen,
  judgement: Pick<Judgement, "passes">,
  options: ExportOptions & { most?: number } = {},
): Promise<{ dataUrl: string; caption: string }[]> {
  const { units = "cm", most = 6, signal, onProgress } = options;
  if (!analysis.ground.map) return [];
  const moments = momentsOf(judgement.passes).filter(
    ({ landing, pass }) => pass.used && isHind(landing) && landing.gap !== null,
  );
  const [first] = moments;
  const shown = moments.filter((moment) => moment.pass === first?.pass).slice(0, most);
  const frames: { dataUrl: string; caption: string }[] = [];
  for (const moment of shown) {
    signal?.throwIfAborted();
    const canvas = await annotatedPicture(reader, analysis, moment, { maxWidthPx: 720, ...options });
    const jpeg = await canvas.convertToBlob({ type: "image/jpeg", quality: 0.82 });
    const { landing, passNumber, timeS } = moment;
    frames.push({
      dataUrl: await dataUrl(jpeg),
      caption: `Pass ${passNumber}, gap ${(landing.gap ?? 0) + 1}: ${PAW_LOOKS[landing.paw].name}, ${signedLengthText(landing.offsetM ?? 0, units)} from the middle, at ${timeS.toFixed(2)} s${landing.source === "hand" ? ", placed by hand" : ""}`,
    });
    onProgress?.(frames.length / shown.length);
  }
  return frames;
}

function momentsOf(passes: readonly PassJudgement[]): Moment[] {
  return passes
    .flatMap((pass, i) =>
      pass.landings.map((landing) => ({
        pass,
        passNumber: i + 1,
        landing,
        timeS: (landing.onS + landing.offS) / 2,
      })),
    )
    .sort((a, b) => a.timeS - b.timeS);
}

async function annotatedPicture(
  reader: ClipReader,
  { ground, marks, registrations, clip }: Seen,
  { pass, timeS }: Moment,
  { units = "cm", maxWidthPx = 1920 }: ExportOptions,
): Promise<OffscreenCanvas> {
  const picture = await reader.picture(timeS, Math.min(maxWidthPx, clip.widthPx));
  try {
    const canvas = new OffscreenCanvas(picture.width, picture.height);
    const context = canvas.getContext("2d");
    if (!context) throw new Error("This browser can't draw pictures in the background. Try another browser.");
    context.drawImage(picture, 0, 0);
    if (ground.map) {
      drawOverlay(context, {
        map: ground.map,
        registrations,
        landings: pass.landings,
        marks,
        timeS,
        size: { widthPx: picture.width, heightPx: picture.height },
        clip,
        units,
      });
    }
    return canvas;
  } finally {
    picture.close();
  }
}

/** Sorts by time within a pass: "pass-1_003.250s_gap-2_left-hind.png". */
function frameName({ passNumber, landing, timeS }: Moment): string {
  const time = timeS.toFixed(3).padStart(8, "0");
  const where = landing.gap === null ? landing.place : `gap-${landing.gap + 1}`;
  return `pass-${passNumber}_${time}s_${where}_${PAW_LOOKS[landing.paw].name.replace(" ", "-")}.png`;
}

async function dataUrl(blob: Blob): Promise<string> {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  let binary = "";
  // In pieces: a call takes only so many arguments.
  for (let at = 0; at < bytes.length; at += 0x8000) {
    binary += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  }
  return `data:${blob.type};base64,${btoa(binary)}`;
}
