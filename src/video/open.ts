import { ALL_FORMATS, BlobSource, Input, type InputVideoTrack, MPEG_TS } from "mediabunny";
import { BrowserClip } from "./browser-clip.ts";
import { isCutOffRecording, isOldContainer } from "./containers.ts";
import { listPackets, type PacketList } from "./packets.ts";
import type { Upright } from "./resample.ts";
import { refuse, stopIfAborted, warn } from "./sentences.ts";
import { describeTiming, rateWarning, realRate } from "./timing.ts";
import { tryDecoding } from "./trial.ts";
import { ClipError, type ClipFacts, type ClipReader } from "./types.ts";

export interface OpenOptions {
  /** Name for messages; taken from the file when it is a File. */
  fileName?: string;
  signal?: AbortSignal;
  /** Called with 0 to 1 while the extra decoding program is fetched and reads the file; never for other clips. */
  onFallbackProgress?: (done: number) => void;
}

/**
 * Opens any video file: through the browser's own decoders where they can, else through ffmpeg compiled to
 * WebAssembly, which is fetched only then. Works on a page and in a module worker.
 *
 * @throws {ClipError} with a sentence for the person who chose the file.
 */
export async function openClip(file: Blob, options: OpenOptions = {}): Promise<ClipReader> {
  const { signal } = options;
  const fileName = options.fileName ?? (file instanceof File ? file.name : "");
  stopIfAborted(signal);
  if (file.size === 0) throw refuse.empty();
  const input = new Input({ source: new BlobSource(file), formats: ALL_FORMATS });
  let keep = false;
  try {
    const found = await findTrack(input, file, fileName);
    stopIfAborted(signal);
    if (!found) throw refuse.cannotDecode(fileName, "old container");
    const { track, originS } = found;
    const packets = await listPackets(track);
    if (packets.timesS.length === 0) throw refuse.noFrames(fileName);
    stopIfAborted(signal);
    const differences = (await track.canDecode()) ? await tryDecoding(track, packets) : null;
    stopIfAborted(signal);
    const origin = originS === "first" ? (packets.timesS[0] ?? 0) : originS;
    const { facts, upright } = await describe(track, packets, origin, file, fileName);
    if (!differences) throw refuse.cannotDecode(fileName, facts.codec);
    addRepeatWarning(facts, differences);
    keep = true;
    return new BrowserClip({ input, track, packets, upright, facts, originS: origin });
  } finally {
    if (!keep) input.dispose();
  }
}

/** The track to use and the clock at its start; null when only ffmpeg can read this container. */
async function findTrack(
  input: Input,
  file: Blob,
  fileName: string,
): Promise<{ track: InputVideoTrack; originS: number | "first" } | null> {
  try {
    const track = await input.getPrimaryVideoTrack();
    // A transport stream's clock starts anywhere; all other containers count from the start of the clip.
    if (track) return { track, originS: (await input.getFormat()) === MPEG_TS ? "first" : 0 };
    if (await isOldContainer(file)) return null;
    if (await isCutOffRecording(file)) throw refuse.noIndex(fileName);
    if (await input.getPrimaryAudioTrack()) throw refuse.soundOnly(fileName);
    throw refuse.notVideo(fileName);
  } catch (error) {
    if (error instanceof ClipError) throw error;
    if (await isOldContainer(file)) return null;
    if (await isCutOffRecording(file)) throw refuse.noIndex(fileName);
    throw refuse.notVideo(fileName);
  }
}

async function describe(
  track: InputVideoTrack,
  packets: PacketList,
  originS: number,
  file: Blob,
  fileName: string,
): Promise<{ facts: ClipFacts; upright: Upright }> {
  const upright: Upright = {
    widthPx: await track.getDisplayWidth(),
    heightPx: await track.getDisplayHeight(),
    rotationDeg: await track.getRotation(),
    flip: await track.getFlip(),
  };
  const codec = (await track.getCodec()) ?? String((await track.getInternalCodecId()) ?? "unknown");
  const timing = describeTiming(packets.timesS.map((timeS) => timeS - originS));
  const warnings = [...timing.warnings];
  const hasS = packets.endS - originS;
  const shouldS = packets.promisedEndS - originS;
  if (shouldS - hasS > CUT_OFF_S) warnings.unshift(warn.cutOff(hasS, shouldS));
  const longSidePx = Math.max(upright.widthPx, upright.heightPx);
  if (longSidePx < LEAST_LONG_SIDE_PX) warnings.push(warn.small(longSidePx));
  const facts: ClipFacts = {
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
    decoder: "browser",
    warnings,
  };
  return { facts, upright };
}

/** Containers round the end of a track; a real cut loses more than this. */
const CUT_OFF_S = 0.25;
/** Under this a paw at a few metres covers a handful of pixels. Design choice. */
const LEAST_LONG_SIDE_PX = 480;

function addRepeatWarning(facts: ClipFacts, differences: number[]): void {
  const real = realRate(differences, facts.meanFps);
  if (real === null) return;
  facts.warnings.push(warn.repeats(facts.meanFps, real));
  const slow = rateWarning(facts.meanFps) === null ? rateWarning(real) : null;
  if (slow) facts.warnings.push(slow);
}
