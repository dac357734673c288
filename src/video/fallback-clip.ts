import { type StoredPicture, yuvColour } from "./channels.ts";
import { CLIP_PATH, type FfmpegProgram, type ProgramTools } from "./ffmpeg-program.ts";
import type { PacketList } from "./packets.ts";
import { framesOf, paintFrame, paintFrames, paintScratch } from "./paint.ts";
import { type FramePicture, PictureShelf } from "./picture-shelf.ts";
import type { Upright } from "./resample.ts";
import { refuse, stopIfAborted, warn } from "./sentences.ts";
import { readShownPictures } from "./showinfo.ts";
import { StoredFrame } from "./stored-frame.ts";
import { firstAtOrAfter, nearestIndex, TIME_TOLERANCE_S } from "./timing.ts";
import {
  ClipError,
  type ClipFacts,
  type ClipFrame,
  type ClipReader,
  type PaintedFrame,
  type PaintOptions,
  type ReadOptions,
} from "./types.ts";

export interface FallbackClipParts {
  program: FfmpegProgram;
  packets: PacketList;
  facts: ClipFacts;
  /** The container's clock at the start of the clip, seconds. */
  originS: number;
  /** The container's earliest time, from which ffmpeg counts when it seeks, seconds. */
  containerStartS: number;
  /** Colour matrix as the file names it; null when it does not. */
  matrix: string | null;
  /** Decoded pictures held at once, bytes. */
  heldBytes: number;
}

/** Decoded pictures have at most as many pixels as 960 × 540: enough for paws, a quarter of the bytes of 1080p. */
const MOST_PIXELS = 960 * 540;
/** Longest stretch decoded at once: what a stop or a look at another moment has to wait for. */
const LONGEST_CHUNK_S = 2;

/** Frames farther apart than this are told apart all the same. */
const LONGEST_STEP_S = 0.2;

/** A stretch of frames decoded in one go: indexes from inclusive to exclusive. */
interface Chunk {
  from: number;
  to: number;
}

/** One decoded picture, already upright. */
interface Decoded {
  index: number;
  doubtful: boolean;
  picture: StoredPicture;
}

/** A clip whose frames are decoded by ffmpeg in WebAssembly, a stretch at a time, scaled down on the way. */
export class FallbackClip implements ClipReader {
  readonly facts: ClipFacts;
  readonly #parts: FallbackClipParts;
  readonly #times: number[];
  readonly #upright: Upright;
  readonly #shelf: PictureShelf;

  constructor(parts: FallbackClipParts) {
    this.#parts = parts;
    this.facts = parts.facts;
    this.#times = parts.packets.timesS.map((timeS) => timeS - parts.originS);
    const { widthPx, heightPx } = parts.facts;
    // ffmpeg turns pictures upright itself.
    this.#upright = { widthPx, heightPx, rotationDeg: 0, flip: false };
    this.#shelf = new PictureShelf(this.#times, (from, to, width) => this.#draw(from, to, width));
  }

  /** Whether ffmpeg can decode it at all: the first frame, or one in the middle where the start is damaged. */
  async canDecode(signal: AbortSignal | undefined): Promise<boolean> {
    const size = { width: 64, height: 64 };
    for (const from of [0, this.#times.length >> 1]) {
      const decoded = await this.#decode({ from, to: from + 1 }, size, signal);
      if (decoded.length > 0) return true;
    }
    return false;
  }

  async frameTimes(): Promise<number[]> {
    return [...this.#times];
  }

  async keyTimes(): Promise<number[]> {
    const { packets, originS } = this.#parts;
    return packets.keyTimesS.map((timeS) => timeS - originS);
  }

  async picture(timeS: number, maxWidthPx = this.facts.widthPx): Promise<ImageBitmap> {
    return this.#shelf.take(timeS, Math.max(2, Math.min(this.facts.widthPx, Math.round(maxWidthPx))));
  }

  close(): void {
    this.#shelf.close();
    this.#parts.program.close();
  }

  /** Frames with fromS ≤ time ≤ toS; the next stretch is decoded while the consumer works on this one. */
  async *frames(options: ReadOptions = {}): AsyncGenerator<ClipFrame, void, void> {
    const { signal } = options;
    const first = firstAtOrAfter(this.#times, (options.fromS ?? -Infinity) - TIME_TOLERANCE_S);
    const end = firstAtOrAfter(this.#times, (options.toS ?? Infinity) + TIME_TOLERANCE_S);
    const { widthPx, heightPx } = this.facts;
    const scale = Math.min(1, Math.sqrt(MOST_PIXELS / (widthPx * heightPx)));
    const size = { width: even(widthPx * scale), height: even(heightPx * scale) };
    const chunks = this.#plan(first, end, size);
    const decode = (chunk: Chunk | undefined) => {
      const pictures = chunk ? this.#decode(chunk, size, signal) : Promise.resolve([]);
      // A failure is dealt with when the promise is awaited, which may be after the consumer has left.
      pictures.catch(() => {});
      return pictures;
    };
    let passed = first;
    let ahead = decode(chunks[0]);
    for (let number = 0; number < chunks.length; number++) {
      const pictures = await ahead;
      stopIfAborted(signal);
      ahead = decode(chunks[number + 1]);
      for (const { index, doubtful, picture } of pictures) {
        stopIfAborted(signal);
        // ffmpeg patches damaged pictures up from their neighbours: they look whole but show the wrong moment.
        if (doubtful) continue;
        const timeS = this.#times[index] as number;
        this.#warnOfGap(passed, index);
        passed = index + 1;
        if (options.need?.(timeS) === "nothing") continue;
        yield new StoredFrame(index, timeS, picture, this.#upright);
      }
    }
    this.#warnOfGap(passed, end);
  }

  paint(
    context: OffscreenCanvasRenderingContext2D,
    options: PaintOptions = {},
  ): AsyncGenerator<PaintedFrame, void, void> {
    return paintFrames(this.frames(framesOf(options)), this.facts, context);
  }

  /** Frames from one index up to another (exclusive) did not come. */
  #warnOfGap(from: number, to: number): void {
    if (to <= from) return;
    const sentence = warn.damaged(
      this.#times[from - 1] ?? 0,
      this.#times[to] ?? this.facts.durationS,
      to - from,
    );
    if (!this.facts.warnings.includes(sentence)) this.facts.warnings.push(sentence);
  }

  /** Cuts a range of frames into stretches that fit in memory, at key frames where there are any. */
  #plan(first: number, end: number, size: { width: number; height: number }): Chunk[] {
    const frameBytes = size.width * size.height * 1.5;
    // Two stretches are held: the one being read and the one being decoded.
    const most = Math.max(1, Math.floor(this.#parts.heldBytes / 2 / frameBytes));
    const keys = this.#parts.packets.keyTimesS.map((timeS) =>
      nearestIndex(this.#times, timeS - this.#parts.originS),
    );
    const chunks: Chunk[] = [];
    for (let from = first; from < end; ) {
      const lastS = (this.#times[from] as number) + LONGEST_CHUNK_S;
      const furthest = Math.min(end, from + most, Math.max(from + 1, firstAtOrAfter(this.#times, lastS)));
      const key = furthest < end ? keys.findLast((index) => index > from && index <= furthest) : undefined;
      const to = key ?? furthest;
      chunks.push({ from, to });
      from = to;
    }
    return chunks;
  }

  /** Decodes a stretch; a crash is tried once more with the program loaded afresh. */
  async #decode(
    chunk: Chunk,
    size: { width: number; height: number },
    signal: AbortSignal | undefined,
  ): Promise<Decoded[]> {
    const work = (tools: ProgramTools) => this.#run(tools, chunk, size);
    try {
      return await this.#parts.program.job(signal, work);
    } catch (error) {
      if (error instanceof ClipError) throw error;
    }
    try {
      return await this.#parts.program.job(signal, work);
    } catch (error) {
      if (error instanceof ClipError) throw error;
      const { fileName, codec } = this.facts;
      throw /memory|allocation/i.test(String(error))
        ? refuse.tooBig(fileName)
        : refuse.cannotDecode(fileName, codec);
    }
  }

  async #run(
    tools: ProgramTools,
    { from, to }: Chunk,
    { width, height }: { width: number; height: number },
  ): Promise<Decoded[]> {
    const { originS, containerStartS, matrix } = this.#parts;
    const times = this.#times;
    const firstS = times[from] as number;
    const lastS = times[to - 1] as number;
    const step = this.#shortestStep(from, to);
    const startS = firstS + originS - 0.25 * step;
    // ffmpeg is sent to the key frame itself: sent to a frame just before the next one, it would begin there and lose
    // the frames shown before but stored after it. Frames are then picked by time; cut points lie between frames so
    // that ffmpeg's rounding to ticks, which may be as long as a step, moves none across.
    const keyS = this.#parts.packets.keyTimesS.findLast(
      (timeS) => timeS <= firstS + originS + TIME_TOLERANCE_S,
    );
    const seekS = keyS === undefined ? startS : keyS + 0.25 * step;
    const endS = lastS + originS + 0.6 * step;
    const seeks = from > 0 && seekS > containerStartS;
    const args = [
      ...(seeks ? ["-ss", (seekS - containerStartS).toFixed(6), "-noaccurate_seek"] : []),
      "-copyts",
      "-i",
      CLIP_PATH,
      "-map",
      "0:V:0",
      "-vf",
      `showinfo=checksum=0,trim=start=${startS.toFixed(6)}:end=${endS.toFixed(6)},scale=${width}:${height}:flags=area:out_range=tv,showinfo=checksum=0`,
      "-vsync",
      "0",
      "-pix_fmt",
      "yuv420p",
      "-f",
      "rawvideo",
      "/frames.yuv",
    ];
    const { log } = await tools.ffmpeg(args);
    const bytes = (await tools.take("/frames.yuv")) ?? new Uint8Array();
    const frameBytes = width * height + 2 * (width / 2) * (height / 2);
    const colour = yuvColour(matrix, false);
    const decoded: Decoded[] = [];
    let last = from - 1;
    readShownPictures(log).forEach(({ timeS, doubtful }, number) => {
      const offset = number * frameBytes;
      const index = nearestIndex(times, timeS - originS);
      const known = Math.abs((times[index] as number) - (timeS - originS)) < 0.5 * step;
      if (!known || index <= last || index >= to || offset + frameBytes > bytes.length) return;
      last = index;
      decoded.push({ index, doubtful, picture: planes(bytes, offset, width, height, colour) });
    });
    return decoded;
  }

  #shortestStep(from: number, to: number): number {
    const low = Math.max(0, from - 1);
    const high = Math.min(this.#times.length - 1, to);
    let shortest = LONGEST_STEP_S;
    for (let index = low; index < high; index++) {
      const step = (this.#times[index + 1] as number) - (this.#times[index] as number);
      if (step > 0 && step < shortest) shortest = step;
    }
    return shortest;
  }

  async *#draw(from: number, to: number, widthPx: number): AsyncGenerator<FramePicture, void, void> {
    const width = even(widthPx);
    const height = even((this.facts.heightPx * widthPx) / this.facts.widthPx);
    const scratch = paintScratch(width, height);
    const canvas = new OffscreenCanvas(width, height);
    const context = canvas.getContext("2d");
    if (!context) throw new Error("This browser gives no 2D canvas to draw pictures on.");
    for (const chunk of this.#plan(from, to + 1, { width, height })) {
      for (const { index, picture } of await this.#decode(chunk, { width, height }, undefined)) {
        const frame = new StoredFrame(index, this.#times[index] as number, picture, this.#upright);
        paintFrame(frame, this.facts, context, scratch);
        yield { index, bitmap: await createImageBitmap(canvas) };
      }
    }
  }
}

function planes(
  bytes: Uint8Array,
  offset: number,
  width: number,
  height: number,
  colour: StoredPicture["colour"],
): StoredPicture {
  const luma = { bytes, offset, stride: width, step: 1, width, height, scaleX: 1, scaleY: 1 };
  const chroma = {
    ...luma,
    offset: offset + width * height,
    stride: width / 2,
    width: width / 2,
    height: height / 2,
    scaleX: 0.5,
    scaleY: 0.5,
  };
  const v = { ...chroma, offset: chroma.offset + (width / 2) * (height / 2) };
  return { width, height, channels: [luma, chroma, v], colour };
}

function even(value: number): number {
  return Math.max(2, 2 * Math.floor(value / 2));
}
