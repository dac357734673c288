import { ALL_FORMATS, Input, type InputVideoTrack, MPEG_TS } from "mediabunny";
import { BoundedSource } from "./bounded-source.ts";
import { BrowserClip } from "./browser-clip.ts";
import { bytesOfWholeBoxes, isCutOffRecording, isOldContainer } from "./containers.ts";
import { describeClip } from "./facts.ts";
import { listPackets } from "./packets.ts";
import type { Upright } from "./resample.ts";
import { namesTooManyPictures } from "./sample-tables.ts";
import { refuse, stopIfAborted, warn } from "./sentences.ts";
import { rateWarning, realRate } from "./timing.ts";
import { tryDecoding } from "./trial.ts";
import { ClipError, type ClipFacts, type ClipReader } from "./types.ts";

export interface OpenOptions {
  /** Name for messages; taken from the file when it is a File. */
  fileName?: string;
  signal?: AbortSignal;
  /** Called with 0 to 1 while the extra decoding program is fetched and reads the file; never for other clips. */
  onFallbackProgress?: (done: number) => void;
  /**
   * Asked before the extra decoding program is fetched, with its size in bytes, unless it is on this device already;
   * false leaves the clip unopened. Without it the program is fetched unasked.
   */
  mayFetchProgram?: ((bytes: number) => Promise<boolean>) | undefined;
  /** Memory for decoded pictures when the extra decoding program is used, bytes; 96 MB unless told otherwise. */
  heldBytes?: number;
}

/**
 * Opens any video file: through the browser's own decoders where they can, else through ffmpeg compiled to
 * WebAssembly, which is fetched only then. Works on a page and in a module worker.
 *
 * @throws {ClipError} with a sentence for the person who chose the file.
 */
export async function openClip(file: Blob, options: OpenOptions = {}): Promise<ClipReader> {
  const fileName = options.fileName ?? (file instanceof File ? file.name : "");
  stopIfAborted(options.signal);
  if (file.size === 0) throw refuse.empty();
  try {
    return await openWhole(file, fileName, options);
  } catch (error) {
    if (error instanceof ClipError) throw error;
    if (isUnreadable(error)) throw refuse.unreadable(fileName);
  }
  // A recording written piece by piece and broken off within a piece's header: the pieces before it are whole.
  try {
    const wholeBytes = await bytesOfWholeBoxes(file);
    if (wholeBytes > 0 && wholeBytes < file.size) {
      return await openWhole(file.slice(0, wholeBytes, file.type), fileName, options);
    }
  } catch (error) {
    if (error instanceof ClipError) throw error;
  }
  throw refuse.damaged(fileName);
}

async function openWhole(file: Blob, fileName: string, options: OpenOptions): Promise<ClipReader> {
  const { signal } = options;
  if (await namesTooManyPictures(file)) throw refuse.damaged(fileName);
  const input = new Input({ source: new BoundedSource(file), formats: ALL_FORMATS });
  let reader: ClipReader | null = null;
  try {
    const track = await findTrack(input, file, fileName);
    stopIfAborted(signal);
    if (track) {
      reader = await openTrack(input, track, file, fileName, options);
    } else {
      const { openFileWithFfmpeg } = await import("./open-fallback.ts");
      reader = await openFileWithFfmpeg(file, fileName, options);
    }
    return reader;
  } finally {
    if (!(reader instanceof BrowserClip)) input.dispose();
  }
}

/** A file that went away, or was changed, after it had been chosen. */
function isUnreadable(error: unknown): boolean {
  return error instanceof Error && /NotReadableError|NotFoundError/.test(`${error.name} ${error.message}`);
}

/** The video track; null when only ffmpeg can read this container. */
async function findTrack(input: Input, file: Blob, fileName: string): Promise<InputVideoTrack | null> {
  let sound = false;
  try {
    const track = await input.getPrimaryVideoTrack();
    if (track) return track;
    sound = (await input.getPrimaryAudioTrack()) !== null;
  } catch (error) {
    if (isUnreadable(error)) throw error;
    // Not one of mediabunny's containers, or broken beyond its header: the file itself says which.
  }
  if (await isOldContainer(file)) return null;
  if (sound) throw refuse.soundOnly(fileName);
  throw (await isCutOffRecording(file)) ? refuse.noIndex(fileName) : refuse.notVideo(fileName);
}

async function openTrack(
  input: Input,
  track: InputVideoTrack,
  file: Blob,
  fileName: string,
  options: OpenOptions,
): Promise<ClipReader> {
  const { signal } = options;
  const packets = await listPackets(track);
  const firstS = packets.timesS[0];
  if (firstS === undefined) throw refuse.noFrames(fileName);
  stopIfAborted(signal);
  const upright: Upright = {
    widthPx: await track.getDisplayWidth(),
    heightPx: await track.getDisplayHeight(),
    rotationDeg: await track.getRotation(),
    flip: await track.getFlip(),
  };
  // A transport stream's clock starts anywhere; all other containers count from the start of the clip.
  const originS = (await input.getFormat()) === MPEG_TS ? firstS : 0;
  const codec = (await track.getCodec()) ?? String((await track.getInternalCodecId()) ?? "unknown");
  const differences = (await track.canDecode()) ? await tryDecoding(track, packets) : null;
  stopIfAborted(signal);
  const clip = { file, fileName, codec, upright, packets, originS };
  if (differences) {
    const facts = describeClip({ ...clip, decoder: "browser" });
    warnOfRepeats(facts, differences);
    await warnOfSlowMotion(facts, input);
    return new BrowserClip({ input, track, packets, upright, facts, originS });
  }
  const { matrix } = await track.getColorSpace();
  const { openTrackWithFfmpeg } = await import("./open-fallback.ts");
  return openTrackWithFfmpeg({ ...clip, matrix: matrix ?? null }, options);
}

/** A recording this many times faster than it plays was slowed on purpose. */
const SLOWED_FROM = 1.5;

/**
 * Phones that save slow motion as a slow film note the true rate under this key (a 32-bit float, big-endian). Where
 * the frames keep their true times, as other phones do, both rates agree.
 */
const CAPTURE_RATE = "com.android.capture.fps";

async function warnOfSlowMotion(facts: ClipFacts, input: Input): Promise<void> {
  const { raw = {} } = await input.getMetadataTags();
  const value = raw[CAPTURE_RATE];
  const filmed =
    value instanceof Uint8Array && value.length === 4
      ? new DataView(value.buffer, value.byteOffset).getFloat32(0)
      : Number(value);
  if (filmed > SLOWED_FROM * facts.meanFps) facts.warnings.unshift(warn.slowed(filmed, facts.meanFps));
}

function warnOfRepeats(facts: ClipFacts, differences: number[]): void {
  const real = realRate(differences, facts.meanFps);
  if (real === null) return;
  facts.warnings.push(warn.repeats(facts.meanFps, real));
  const slow = rateWarning(facts.meanFps) === null ? rateWarning(real) : null;
  if (slow) facts.warnings.push(slow);
}
