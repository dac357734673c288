import type { PacketList } from "./packets.ts";
import type { Upright } from "./resample.ts";
import { warn } from "./sentences.ts";
import { describeTiming } from "./timing.ts";
import type { ClipFacts } from "./types.ts";

/** Containers round the end of a track; a real cut loses more than this. */
const CUT_OFF_S = 0.25;
/** Under this a paw at a few metres covers a handful of pixels. Design choice. */
const LEAST_LONG_SIDE_PX = 480;

/** The facts of a clip, with a sentence for each thing worth knowing before it is analysed. */
export function describeClip(clip: {
  file: Blob;
  fileName: string;
  codec: string;
  upright: Pick<Upright, "widthPx" | "heightPx" | "rotationDeg">;
  packets: PacketList;
  originS: number;
  decoder: ClipFacts["decoder"];
}): ClipFacts {
  const { file, fileName, codec, upright, packets, originS, decoder } = clip;
  const timing = describeTiming(packets.timesS.map((timeS) => timeS - originS));
  const warnings = [...timing.warnings];
  const hasS = packets.endS - originS;
  const shouldS = packets.promisedEndS - originS;
  if (shouldS - hasS > CUT_OFF_S) warnings.unshift(warn.cutOff(hasS, shouldS));
  const longSidePx = Math.max(upright.widthPx, upright.heightPx);
  if (longSidePx < LEAST_LONG_SIDE_PX) warnings.push(warn.small(longSidePx));
  return {
    fileName,
    sizeBytes: file.size,
    durationS: hasS,
    widthPx: upright.widthPx,
    heightPx: upright.heightPx,
    rotationDeg: upright.rotationDeg,
    codec,
    frameCount: packets.timesS.length,
    meanFps: timing.meanFps,
    variableRate: timing.variableRate,
    decoder,
    warnings,
  };
}
