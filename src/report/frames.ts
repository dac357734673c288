import { Zip, ZipPassThrough } from "fflate";
import { signedLengthText, type Units } from "../charts/lengths.ts";
import { isHind, PAW_LOOKS } from "../charts/marks.ts";
import { groundToImage } from "../ground/map.ts";
import type { GroundMap, ImagePoint } from "../ground/types.ts";
import type { Judgement, PassJudgement, PlacedLanding } from "../spacing/types.ts";
import { annotatedPictures } from "../video/annotate.ts";
import type { ClipReader, Region } from "../video/types.ts";
import { overlayOf, type Seen } from "./overlay.ts";

export interface ExportOptions {
  signal?: AbortSignal | undefined;
  /** 0 to 1. */
  onProgress?: ((done: number) => void) | undefined;
  units?: Units | undefined;
  /** Pictures wider than this are made smaller. */
  maxWidthPx?: number | undefined;
}

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
 * @throws Error with a sentence when there is no landing; ClipError when the film can't be read; either that or the
 * signal's reason when the signal goes up.
 */
export async function exportFramesZip(
  reader: ClipReader,
  analysis: Seen,
  judgement: Pick<Judgement, "passes">,
  options: ExportOptions = {},
): Promise<Blob> {
  const { signal, onProgress, units = "cm", maxWidthPx = 1920 } = options;
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
  let made = 0;
  for await (const canvas of picturesOf(reader, analysis, moments, units, maxWidthPx, signal)) {
    const picture = await canvas.convertToBlob({ type: "image/png" });
    // PNG is packed already: stored as it is.
    const entry = new ZipPassThrough(frameName(moments[made++]!));
    zip.add(entry);
    entry.push(new Uint8Array(await picture.arrayBuffer()), true);
    if (failed) throw failed;
    onProgress?.(made / moments.length);
  }
  zip.end();
  if (failed) throw failed;
  return new Blob(parts, { type: "application/zip" });
}

/**
 * A few small pictures for the report, cut to the dog's legs and the poles: the hind landings in the row of the first pass that counts.
 * Empty where the ground has no map or nothing landed.
 */
export async function reportFrames(
  reader: ClipReader,
  analysis: Seen,
  judgement: Pick<Judgement, "passes">,
  options: ExportOptions & { most?: number } = {},
): Promise<{ dataUrl: string; caption: string }[]> {
  const { units = "cm", most = 6, maxWidthPx = 640, signal, onProgress } = options;
  const { map } = analysis.ground;
  if (!map) return [];
  const moments = momentsOf(judgement.passes).filter(
    ({ landing, pass }) => pass.used && isHind(landing) && landing.gap !== null,
  );
  const [first] = moments;
  const shown = moments.filter((moment) => moment.pass === first?.pass).slice(0, most);
  const frames: { dataUrl: string; caption: string }[] = [];
  const whole = analysis.clip.widthPx;
  for await (const canvas of picturesOf(reader, analysis, shown, units, whole, signal)) {
    const { landing, passNumber, timeS } = shown[frames.length]!;
    const jpeg = await asJpeg(canvas, around(landing, map, analysis.clip), maxWidthPx);
    frames.push({
      dataUrl: await dataUrl(jpeg),
      caption: `Pass ${passNumber}, gap ${(landing.gap ?? 0) + 1}: ${PAW_LOOKS[landing.paw].name}, ${signedLengthText(landing.offsetM ?? 0, units)} from the middle, at ${timeS.toFixed(2)} s${landing.source === "hand" ? ", placed by hand" : ""}`,
    });
    onProgress?.(frames.length / shown.length);
  }
  return frames;
}

function picturesOf(
  reader: ClipReader,
  analysis: Seen,
  moments: readonly Moment[],
  units: Units,
  maxWidthPx: number,
  signal: AbortSignal | undefined,
) {
  signal?.throwIfAborted();
  const plans = moments.map(({ timeS, pass }) => ({ timeS, draw: overlayOf(analysis, [pass], units) }));
  return annotatedPictures(reader, plans, maxWidthPx, signal);
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

/** Sorts by time within a pass: "pass-1_003.250s_gap-2_left-hind.png". */
function frameName({ passNumber, landing, timeS }: Moment): string {
  const time = timeS.toFixed(3).padStart(8, "0");
  const where = landing.gap === null ? landing.place : `gap-${landing.gap + 1}`;
  return `pass-${passNumber}_${time}s_${where}_${PAW_LOOKS[landing.paw].name.replace(" ", "-")}.png`;
}

/** The part of the picture around a landing: dog, poles and feet, at their largest. Pixels of the upright picture. */
function around(landing: PlacedLanding, map: GroundMap, { widthPx, heightPx }: Seen["clip"]): Region {
  const at = groundToImage(map, landing);
  const [left, right] = [-0.5, 0.5].map((sideM) =>
    groundToImage(map, { xM: landing.xM + sideM, yM: landing.yM }),
  ) as [ImagePoint, ImagePoint];
  const perMetre = Math.hypot(right.x - left.x, right.y - left.y);
  const width = Math.min(widthPx, PICTURE_M * perMetre);
  const height = Math.min(heightPx, width / PICTURE_SHAPE);
  const within = (start: number, size: number, most: number) => Math.max(0, Math.min(most - size, start));
  return {
    x: within(at.x - width / 2, width, widthPx),
    // The foot stands low in the picture: the dog is above it.
    y: within(at.y - 0.68 * height, height, heightPx),
    width,
    height,
  };
}

/** Ground shown along the row, metres, and width against height. */
const PICTURE_M = 2.4;
const PICTURE_SHAPE = 3 / 2;

/** A photograph takes a tenth of the room as JPEG. */
async function asJpeg(picture: OffscreenCanvas, part: Region, maxWidthPx: number): Promise<Blob> {
  const width = Math.round(Math.min(maxWidthPx, part.width));
  const height = Math.round((part.height * width) / part.width);
  const canvas = new OffscreenCanvas(width, height);
  canvas.getContext("2d")?.drawImage(picture, part.x, part.y, part.width, part.height, 0, 0, width, height);
  return canvas.convertToBlob({ type: "image/jpeg", quality: 0.85 });
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
