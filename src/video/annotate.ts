import {
  BufferTarget,
  CanvasSource,
  getFirstEncodableVideoCodec,
  Mp4OutputFormat,
  Output,
  Quality,
  type VideoCodec,
} from "mediabunny";
import { refuse, stopIfAborted } from "./sentences.ts";
import { firstAtOrAfter, nearestIndex, shownIndex, TIME_TOLERANCE_S } from "./timing.ts";
import type { ClipFacts, ClipReader } from "./types.ts";

/**
 * Draws over a picture that is already painted. One unit of the context is one pixel of the upright full-size picture,
 * whatever the size that is written.
 *
 * @param timeS Time of the frame in the clip.
 * @param index Place of the frame in the clip.
 */
export type DrawOver = (
  context: OffscreenCanvasRenderingContext2D,
  timeS: number,
  index: number,
) => void | Promise<void>;

export interface AnnotateOptions {
  maxWidthPx: number;
  /** Only frames with fromS ≤ time ≤ toS. */
  fromS?: number;
  toS?: number;
  /** Called with 0 to 1. */
  onProgress?: (done: number) => void;
  signal?: AbortSignal;
  /** 2 plays at half speed; 1 unless told otherwise. */
  slowdown?: number;
}

export interface WrittenClip {
  blob: Blob;
  extension: "mp4";
  mimeType: "video/mp4";
}

/** Takes drawn pictures one after another and gives the film. */
export interface FilmWriter {
  /** Adds what the canvas shows; times in seconds of the film. */
  add(timeS: number, durationS: number): Promise<void>;
  finish(): Promise<Blob>;
  cancel(): Promise<void>;
}

/** Codecs in the order in which players know them. */
const CODECS: VideoCodec[] = ["avc", "vp9", "av1"];

/** A film needs no more than some thirty frames a second; slowed down, it has more of the clip's. */
const LEAST_STEP_S = 0.03;

/**
 * Writes a stretch of a clip with drawings over it as an MP4 whose frames keep their true distances in time, thinned to
 * about thirty a second; the film starts at 0. Encoded by the browser (H.264, else VP9, else AV1), or by ffmpeg where the browser encodes nothing.
 *
 * @throws {ClipError} "cancelled" when the signal goes up, "no-frames" when no frame lies in the stretch.
 */
export async function writeAnnotatedClip(
  reader: ClipReader,
  draw: DrawOver,
  options: AnnotateOptions,
): Promise<WrittenClip> {
  const { maxWidthPx, signal, onProgress = () => {}, slowdown = 1 } = options;
  if (!(maxWidthPx >= 2)) throw new RangeError(`maxWidthPx must be 2 or more, not ${maxWidthPx}.`);
  if (!(slowdown > 0)) throw new RangeError(`slowdown must be more than 0, not ${slowdown}.`);
  const times = await reader.frameTimes();
  const first = firstAtOrAfter(times, (options.fromS ?? Number.NEGATIVE_INFINITY) - TIME_TOLERANCE_S);
  const end = firstAtOrAfter(times, (options.toS ?? Number.POSITIVE_INFINITY) + TIME_TOLERANCE_S);
  const startS = times[first];
  if (startS === undefined || end <= first) throw refuse.noFrames(reader.facts.fileName);
  const { context, canvas } = makeCanvas(reader.facts, maxWidthPx);
  const writer = await openWriter(canvas, context, signal);
  try {
    let written = 0;
    const chosen = chooseFrames(times.slice(first, end), LEAST_STEP_S / slowdown);
    const wanted = new Set(chosen);
    const frames = reader.paint(context, {
      fromS: startS,
      toS: times[end - 1] as number,
      wanted: (timeS) => wanted.has(times[nearestIndex(times, timeS)] as number),
      ...(signal ? { signal } : {}),
    });
    for await (const { timeS, index } of frames) {
      await drawScaled(context, reader.facts, () => draw(context, timeS, index));
      const durationS = stepAfter(chosen, nearestIndex(chosen, timeS));
      await writer.add((timeS - startS) * slowdown, durationS * slowdown);
      stopIfAborted(signal);
      onProgress(++written / chosen.length);
    }
    if (written === 0) throw refuse.noFrames(reader.facts.fileName);
    return { blob: await writer.finish(), extension: "mp4", mimeType: "video/mp4" };
  } catch (error) {
    await writer.cancel();
    throw error;
  }
}

/** A picture to be made: the frame shown at a time, and what is drawn over it. */
export interface PicturePlan {
  timeS: number;
  draw: DrawOver;
}

/** Wanted frames farther apart than this are sought one by one; nearer ones are come to by decoding on, seconds. */
const SEEK_S = 4;

/**
 * The planned pictures, upright, at most `maxWidthPx` wide, in the order of the plans, whose times must rise. Each is on
 * the same canvas, until the next is asked for.
 *
 * @throws {ClipError} When a frame cannot be had or the signal goes up.
 */
export async function* annotatedPictures(
  reader: ClipReader,
  plans: readonly PicturePlan[],
  maxWidthPx: number,
  signal?: AbortSignal,
): AsyncGenerator<OffscreenCanvas, void, void> {
  const times = await reader.frameTimes();
  const wanted = plans.map((plan) => shownIndex(times, plan.timeS));
  const width = Math.max(1, Math.round(Math.min(maxWidthPx, reader.facts.widthPx)));
  const height = Math.max(1, Math.round((reader.facts.heightPx * width) / reader.facts.widthPx));
  const plain = contextOf(new OffscreenCanvas(width, height));
  const drawn = contextOf(new OffscreenCanvas(width, height));
  let next = 0;
  while (next < plans.length) {
    const from = next;
    let to = from;
    while (to + 1 < plans.length && times[wanted[to + 1]!]! - times[wanted[to]!]! < SEEK_S) to++;
    const indices = new Set(wanted.slice(from, to + 1));
    const frames = reader.paint(plain, {
      fromS: times[wanted[from]!]!,
      toS: times[wanted[to]!]!,
      wanted: (timeS) => indices.has(nearestIndex(times, timeS)),
      ...(signal ? { signal } : {}),
    });
    for await (const { index, timeS } of frames) {
      for (; next <= to && wanted[next] === index; next++) {
        drawn.drawImage(plain.canvas, 0, 0);
        await drawScaled(drawn, reader.facts, () => plans[next]!.draw(drawn, timeS, index));
        yield drawn.canvas;
      }
    }
    if (next <= to) throw refuse.damagedPicture(times[wanted[next]!] ?? 0);
  }
}

function makeCanvas(facts: ClipFacts, maxWidthPx: number) {
  const width = even(Math.min(maxWidthPx, facts.widthPx));
  const height = even((facts.heightPx * width) / facts.widthPx);
  const canvas = new OffscreenCanvas(width, height);
  return { canvas, context: contextOf(canvas) };
}

/** Encoders want even sizes. */
const even = (value: number) => Math.max(2, 2 * Math.floor(value / 2));

function contextOf(canvas: OffscreenCanvas): OffscreenCanvasRenderingContext2D {
  const context = canvas.getContext("2d");
  if (!context) throw new Error("This browser gives no 2D canvas to draw on.");
  return context;
}

async function drawScaled(
  context: OffscreenCanvasRenderingContext2D,
  facts: ClipFacts,
  draw: () => void | Promise<void>,
): Promise<void> {
  context.save();
  context.scale(context.canvas.width / facts.widthPx, context.canvas.height / facts.heightPx);
  await draw();
  context.restore();
}

/** Of rising times those that follow each other by at least a step, from the first on. */
function chooseFrames(times: readonly number[], leastS: number): number[] {
  const chosen: number[] = [];
  for (const timeS of times) {
    if (timeS - (chosen.at(-1) ?? Number.NEGATIVE_INFINITY) >= leastS) chosen.push(timeS);
  }
  return chosen;
}

/** How long a frame is on show: until the next; the last one as long as the one before. */
function stepAfter(times: readonly number[], index: number): number {
  const here = times[index] ?? 0;
  const next = times[index + 1];
  if (next !== undefined) return next - here;
  const before = times[index - 1];
  return before === undefined ? 1 / 30 : here - before;
}

async function openWriter(
  canvas: OffscreenCanvas,
  context: OffscreenCanvasRenderingContext2D,
  signal: AbortSignal | undefined,
): Promise<FilmWriter> {
  const { width, height } = canvas;
  const quality = new Quality("high");
  const codec = await getFirstEncodableVideoCodec(CODECS, { width, height, quality });
  if (!codec) {
    const { openX264Writer } = await import("./x264-writer.ts");
    return openX264Writer(context, signal);
  }
  const target = new BufferTarget();
  const output = new Output({ format: new Mp4OutputFormat({ fastStart: "in-memory" }), target });
  const source = new CanvasSource(canvas, { codec, quality, keyFrameInterval: 1 });
  output.addVideoTrack(source);
  await output.start();
  return {
    add: (timeS, durationS) => source.add(timeS, durationS),
    async finish() {
      await output.finalize();
      return new Blob([target.buffer ?? new ArrayBuffer(0)], { type: "video/mp4" });
    },
    cancel: () => output.cancel(),
  };
}
