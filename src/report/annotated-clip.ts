import { extent } from "d3";
import type { Judgement } from "../spacing/types.ts";
import { writeAnnotatedClip } from "../video/annotate.ts";
import type { ClipReader } from "../video/types.ts";
import type { ExportOptions } from "./frames.ts";
import { overlayOf, type Seen } from "./overlay.ts";

export interface ClipExportOptions extends ExportOptions {
  /** The stretch to write, seconds of the clip; from a second before the first landing to one after the last. */
  fromS?: number | undefined;
  toS?: number | undefined;
  /** 4 plays at a quarter of the speed. */
  slowdown?: number | undefined;
}

const AROUND_S = 1;

/**
 * The film with poles, gap numbers and landings drawn in, as MP4. The judgement must hold passes of this clip only.
 * @throws Error with a sentence when there is no landing; ClipError when the film can't be read or the signal goes up.
 */
export async function exportClip(
  reader: ClipReader,
  analysis: Seen,
  judgement: Pick<Judgement, "passes">,
  { units = "cm", maxWidthPx = 1280, slowdown = 1, signal, onProgress, ...stretch }: ClipExportOptions = {},
): Promise<Blob> {
  const landings = judgement.passes.flatMap((pass) => pass.landings);
  const [firstS] = extent(landings, (landing) => landing.onS);
  const [, lastS] = extent(landings, (landing) => landing.offS);
  if (firstS === undefined || lastS === undefined) {
    throw new Error("There is no landing to draw. Find or place landings first, then export again.");
  }
  const { blob } = await writeAnnotatedClip(reader, overlayOf(analysis, judgement.passes, units), {
    maxWidthPx,
    slowdown,
    fromS: stretch.fromS ?? firstS - AROUND_S,
    toS: stretch.toS ?? lastS + AROUND_S,
    ...(signal ? { signal } : {}),
    ...(onProgress ? { onProgress } : {}),
  });
  return blob;
}
