import {
  type Input,
  InputDisposedError,
  type InputVideoTrack,
  type VideoSample,
  VideoSampleSink,
} from "mediabunny";
import { BytePool, copyPicture } from "./frame-bytes.ts";
import { isShown, type PacketList } from "./packets.ts";
import { framesOf, paintFrames } from "./paint.ts";
import { type FramePicture, PictureShelf } from "./picture-shelf.ts";
import { storedRect, type Upright } from "./resample.ts";
import { stopIfAborted, warn } from "./sentences.ts";
import { StoredFrame } from "./stored-frame.ts";
import { firstAtOrAfter, nearestIndex, TIME_TOLERANCE_S } from "./timing.ts";
import {
  ClipError,
  type ClipFacts,
  type ClipFrame,
  type ClipReader,
  type FrameNeed,
  type PaintedFrame,
  type PaintOptions,
  type ReadOptions,
  type Region,
} from "./types.ts";
import { unstalled } from "./unstalled.ts";

/** What a browser clip is made of, all of it read beforehand. */
export interface BrowserClipParts {
  input: Input;
  track: InputVideoTrack;
  packets: PacketList;
  upright: Upright;
  facts: ClipFacts;
  /** The container's clock at the start of the clip, seconds. */
  originS: number;
}

/** A damaged stretch and how many frames it swallowed. */
interface Gap {
  fromS: number;
  toS: number;
  frames: number;
}

type Need = (timeS: number) => FrameNeed;

/** A frame of which nothing is needed. */
interface PassedOver {
  timeS: number;
}

/** A clip whose frames the browser decodes itself, through WebCodecs. */
export class BrowserClip implements ClipReader {
  readonly facts: ClipFacts;
  readonly #parts: BrowserClipParts;
  readonly #sink: VideoSampleSink;
  readonly #pool = new BytePool();
  readonly #times: number[];
  readonly #shelf: PictureShelf;
  #closed = false;

  constructor(parts: BrowserClipParts) {
    this.#parts = parts;
    this.facts = parts.facts;
    this.#sink = new VideoSampleSink(parts.track);
    this.#times = parts.packets.timesS.map((timeS) => timeS - parts.originS);
    this.#shelf = new PictureShelf(this.#times, (from, to, widthPx) => this.#draw(from, to, widthPx));
  }

  async frameTimes(): Promise<number[]> {
    return [...this.#times];
  }

  async keyTimes(): Promise<number[]> {
    const { packets, originS } = this.#parts;
    return packets.keyTimesS.map((timeS) => timeS - originS);
  }

  async picture(timeS: number, maxWidthPx = this.facts.widthPx): Promise<ImageBitmap> {
    this.#assertOpen();
    return this.#shelf.take(timeS, Math.max(1, Math.min(this.facts.widthPx, Math.round(maxWidthPx))));
  }

  close(): void {
    if (this.#closed) return;
    this.#closed = true;
    this.#shelf.close();
    this.#parts.input.dispose();
  }

  /**
   * Frames with fromS ≤ time ≤ toS. After a damaged stretch decoding goes on at the next key frame, and a sentence
   * about the gap joins `facts.warnings`.
   */
  async *frames(options: ReadOptions = {}): AsyncGenerator<ClipFrame, void, void> {
    this.#assertOpen();
    const { signal } = options;
    const fromS = options.fromS ?? Number.NEGATIVE_INFINITY;
    const toS = options.toS ?? Number.POSITIVE_INFINITY;
    const expected = this.#countBetween(fromS, toS);
    let wantS = fromS;
    let restartS = Number.NEGATIVE_INFINITY;
    let accounted = 0;
    let gap = null as Gap | null;
    const need = options.need ?? (() => "whole" as const);
    const arrived = (frame: { timeS: number }) => {
      if (gap) this.#warnOf(gap);
      gap = null;
      accounted++;
      wantS = frame.timeS + 2 * TIME_TOLERANCE_S;
    };
    for (;;) {
      let damaged = yield* this.#deliver(wantS, toS, signal, need, arrived);
      if (!damaged) break;
      // What the decoder had finished before the damage was lost with it: decode up to there once more, keeping all.
      const rescue = await this.#rescue(wantS, toS, signal, need);
      damaged = rescue.damaged;
      for (const frame of rescue.frames) {
        arrived(frame);
        if (frame instanceof StoredFrame) yield frame;
      }
      // Without damage and without a picture there is nothing to be had before the next key frame either.
      if (!damaged && rescue.frames.length > 0) continue;
      restartS = this.#keyAfter(Math.max(wantS, restartS));
      const lost = this.#countBetween(wantS, Math.min(toS, restartS - 2 * TIME_TOLERANCE_S));
      gap = {
        fromS: gap?.fromS ?? wantS,
        toS: Math.min(restartS, this.facts.durationS),
        frames: (gap?.frames ?? 0) + lost,
      };
      accounted += lost;
      // No key frame follows, or none within the stretch.
      if (restartS === Number.POSITIVE_INFINITY || restartS > toS) break;
      wantS = restartS;
    }
    if (gap) this.#warnOf(gap);
    if (accounted < expected) this.#warn(warn.missing(accounted, expected));
  }

  /** Drawn by the browser, which turns and shrinks on its own; what follows damage goes the careful way of `frames`. */
  async *paint(
    context: OffscreenCanvasRenderingContext2D,
    options: PaintOptions = {},
  ): AsyncGenerator<PaintedFrame, void, void> {
    this.#assertOpen();
    const { signal, toS = Number.POSITIVE_INFINITY, wanted: chosen = () => true } = options;
    let wantS = options.fromS ?? Number.NEGATIVE_INFINITY;
    const { width, height } = context.canvas;
    // Four neighbours suffice for a little shrinking, and cost a fifth less.
    context.imageSmoothingQuality = this.facts.widthPx < 2 * width ? "low" : "medium";
    try {
      for await (const sample of this.#samples(wantS, toS)) {
        const timeS = sample.timestamp - this.#parts.originS;
        const wanted = this.#isWanted(sample, wantS) && chosen(timeS);
        if (wanted) sample.draw(context, 0, 0, width, height);
        sample.close();
        stopIfAborted(signal);
        if (!wanted) continue;
        yield { index: nearestIndex(this.#times, timeS), timeS };
        wantS = timeS + 2 * TIME_TOLERANCE_S;
      }
    } catch (error) {
      this.#damage(error);
      yield* paintFrames(this.frames({ ...framesOf(options), fromS: wantS }), this.facts, context);
    }
  }

  /** Passes frames on; true when the decoder failed before the end. */
  async *#deliver(
    wantS: number,
    toS: number,
    signal: AbortSignal | undefined,
    need: Need,
    onFrame: (frame: { timeS: number }) => void,
  ): AsyncGenerator<ClipFrame, boolean, void> {
    const samples = this.#samples(wantS, toS);
    const read = () => {
      const frame = this.#nextFrame(samples, wantS, need);
      // A failure is dealt with when the promise is awaited, which may be after the consumer has left.
      frame.catch(() => {});
      return frame;
    };
    let ahead = read();
    try {
      for (;;) {
        stopIfAborted(signal);
        const frame = await ahead.catch((error) => this.#damage(error));
        if (frame === "damaged") return true;
        if (frame === null) return false;
        // The next frame is copied while the consumer works on this one.
        ahead = read();
        onFrame(frame);
        if (frame instanceof StoredFrame) yield frame;
      }
    } finally {
      await samples.return();
      const left = await ahead.catch(() => null);
      if (left instanceof StoredFrame) left.close();
    }
  }

  /** Decodes with nothing in between, so that every frame finished before the decoder fails is kept. */
  async #rescue(
    wantS: number,
    toS: number,
    signal: AbortSignal | undefined,
    need: Need,
  ): Promise<{ frames: (StoredFrame | PassedOver)[]; damaged: boolean }> {
    const samples = this.#samples(wantS, toS);
    const copies: (Promise<StoredFrame> | PassedOver)[] = [];
    let damaged = false;
    try {
      while (copies.length < RESCUED_AT_ONCE) {
        stopIfAborted(signal);
        const { value: sample, done } = await samples.next();
        if (done) break;
        if (this.#isWanted(sample, wantS)) copies.push(this.#store(sample, need));
        else sample.close();
      }
    } catch (error) {
      damaged = this.#damage(error) === "damaged";
    } finally {
      await samples.return();
    }
    return { frames: await Promise.all(copies), damaged };
  }

  /** Errors of the decoder are damage to be worked around; all others are thrown on. */
  #damage(error: unknown): "damaged" {
    if (error instanceof ClipError || error instanceof InputDisposedError) throw error;
    return "damaged";
  }

  #samples(wantS: number, toS: number): AsyncGenerator<VideoSample, void, unknown> {
    const { originS } = this.#parts;
    return unstalled(
      this.#sink.samples(wantS + originS + TIME_TOLERANCE_S, toS + originS + TIME_TOLERANCE_S),
    );
  }

  /** The sink begins with the picture already on show at the start; that one is passed over when it began earlier. */
  #isWanted(sample: VideoSample, wantS: number): boolean {
    return isShown(sample) && sample.timestamp - this.#parts.originS >= wantS - TIME_TOLERANCE_S;
  }

  async #nextFrame(
    samples: AsyncGenerator<VideoSample, void, unknown>,
    wantS: number,
    need: Need,
  ): Promise<StoredFrame | PassedOver | null> {
    for (;;) {
      const { value: sample, done } = await samples.next();
      if (done) return null;
      if (this.#isWanted(sample, wantS)) return this.#store(sample, need);
      sample.close();
    }
  }

  /** Copies what is needed of a picture and lets go of it. */
  #store(sample: VideoSample, need: Need): Promise<StoredFrame> | PassedOver {
    const timeS = sample.timestamp - this.#parts.originS;
    const wanted = need(timeS);
    if (wanted === "nothing") {
      sample.close();
      return { timeS };
    }
    return this.#copy(sample, timeS, wanted);
  }

  async #copy(sample: VideoSample, timeS: number, wanted: Region | "whole"): Promise<StoredFrame> {
    try {
      const { upright } = this.#parts;
      const stored = { width: sample.codedWidth, height: sample.codedHeight };
      const part = wanted === "whole" ? null : storedRect(stored, upright, wanted);
      const picture = await copyPicture(sample, this.#pool, part);
      const release = (bytes: Uint8Array) => this.#pool.give(bytes);
      return new StoredFrame(nearestIndex(this.#times, timeS), timeS, picture, upright, release);
    } finally {
      sample.close();
    }
  }

  async *#draw(from: number, to: number, widthPx: number): AsyncGenerator<FramePicture, void, void> {
    const { widthPx: fullWidth, heightPx: fullHeight } = this.facts;
    const heightPx = Math.max(1, Math.round((fullHeight * widthPx) / fullWidth));
    const samples = this.#samples(this.#times[from] as number, this.#times[to] as number);
    try {
      for await (const sample of samples) {
        const index = nearestIndex(this.#times, sample.timestamp - this.#parts.originS);
        const canvas = new OffscreenCanvas(widthPx, heightPx);
        const context = canvas.getContext("2d");
        if (index >= from && context) {
          context.imageSmoothingQuality = "high";
          sample.draw(context, 0, 0, widthPx, heightPx);
        }
        sample.close();
        if (index >= from) yield { index, bitmap: canvas.transferToImageBitmap() };
      }
    } catch (error) {
      this.#damage(error);
    }
  }

  #keyAfter(timeS: number): number {
    const { packets, originS } = this.#parts;
    const key = packets.keyTimesS.find((keyS) => keyS - originS > timeS + TIME_TOLERANCE_S);
    return key === undefined ? Number.POSITIVE_INFINITY : key - originS;
  }

  #countBetween(fromS: number, toS: number): number {
    const first = firstAtOrAfter(this.#times, fromS - TIME_TOLERANCE_S);
    return Math.max(0, firstAtOrAfter(this.#times, toS + TIME_TOLERANCE_S) - first);
  }

  #warnOf({ fromS, toS, frames }: Gap): void {
    if (frames > 0) this.#warn(warn.damaged(Math.max(0, fromS), toS, frames));
  }

  #warn(sentence: string): void {
    if (!this.facts.warnings.includes(sentence)) this.facts.warnings.push(sentence);
  }

  #assertOpen(): void {
    if (this.#closed) throw new Error("This clip is closed; open the file again to read it.");
  }
}

/** More frames than any decoder holds back (mediabunny queues at most 40 packets). */
const RESCUED_AT_ONCE = 48;
