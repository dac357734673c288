import { isProgramKept, PROGRAM_BYTES } from "./extra-program.ts";
import { describeClip } from "./facts.ts";
import { FallbackClip } from "./fallback-clip.ts";
import { FfmpegProgram } from "./ffmpeg-program.ts";
import type { OpenOptions } from "./open.ts";
import type { PacketList } from "./packets.ts";
import { probeClip, probeStart } from "./probe.ts";
import type { Upright } from "./resample.ts";
import { refuse } from "./sentences.ts";
import type { ClipReader } from "./types.ts";

/** What is known of a clip when it is opened by ffmpeg. */
interface KnownClip {
  file: Blob;
  fileName: string;
  codec: string;
  upright: Upright;
  packets: PacketList;
  originS: number;
  matrix: string | null;
}

/** Memory for decoded pictures unless told otherwise, bytes. */
const HELD_BYTES = 96e6;
/** Share of the opening that goes into fetching the program. */
const LOADING_SHARE = 0.8;

/** Opens a clip whose container is read but whose pictures the browser cannot decode. */
export function openTrackWithFfmpeg(known: KnownClip, options: OpenOptions): Promise<ClipReader> {
  return withProgram(known.file, options, async (program) => {
    const containerStartS = await probeStart(program, options.signal);
    return makeClip(program, known, containerStartS, options);
  });
}

/** Opens a clip in a container that only ffmpeg reads. */
export function openFileWithFfmpeg(file: Blob, fileName: string, options: OpenOptions): Promise<ClipReader> {
  return withProgram(file, options, async (program, onProgress) => {
    const probed = await probeClip(program, fileName, options.signal, onProgress);
    if (probed.packets.timesS.length === 0) throw refuse.noFrames(fileName);
    return makeClip(program, { file, fileName, ...probed }, probed.containerStartS, options);
  });
}

async function withProgram(
  file: Blob,
  options: OpenOptions,
  open: (program: FfmpegProgram, onProgress: (done: number) => void) => Promise<ClipReader>,
): Promise<ClipReader> {
  const { signal, onFallbackProgress: tell = () => {}, mayFetchProgram } = options;
  if (mayFetchProgram && !(await isProgramKept()) && !(await mayFetchProgram(PROGRAM_BYTES))) {
    throw refuse.programNotWanted();
  }
  const program = new FfmpegProgram(file);
  tell(0);
  try {
    await program.load(signal, (done) => tell(LOADING_SHARE * done));
    const reader = await open(program, (done) => tell(LOADING_SHARE + (1 - LOADING_SHARE) * done));
    tell(1);
    return reader;
  } catch (error) {
    program.close();
    throw error;
  }
}

async function makeClip(
  program: FfmpegProgram,
  known: KnownClip,
  containerStartS: number,
  options: OpenOptions,
): Promise<ClipReader> {
  const { packets, originS, matrix } = known;
  const facts = describeClip({ ...known, decoder: "fallback" });
  const heldBytes = options.heldBytes ?? HELD_BYTES;
  const clip = new FallbackClip({ program, packets, facts, originS, containerStartS, matrix, heldBytes });
  if (!(await clip.canDecode(options.signal))) throw refuse.cannotDecode(known.fileName, known.codec);
  return clip;
}
