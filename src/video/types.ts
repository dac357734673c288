/** What can be said of a clip before it is analysed. */
export interface ClipFacts {
  fileName: string;
  sizeBytes: number;
  durationS: number;
  /** Size of the upright picture, pixels. */
  widthPx: number;
  heightPx: number;
  /** Clockwise turn that the file asks for. */
  rotationDeg: 0 | 90 | 180 | 270;
  /** Short codec name as the container gives it, e.g. "avc", "hevc", "vp9". */
  codec: string;
  frameCount: number;
  meanFps: number;
  /** True where frame intervals differ by more than a quarter from their median. */
  variableRate: boolean;
  /** How its frames are decoded here. */
  decoder: "browser" | "fallback";
  /** Sentences worth showing (low frame rate, cut-off file, duplicated frames …). */
  warnings: string[];
}

/** A rectangle of the upright picture, pixels; may reach over the edge (filled with the edge's colour). */
export interface Region {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** One decoded frame. Who gets it closes it. */
export interface ClipFrame {
  /** 0 for the first frame of the clip. */
  index: number;
  /** Presentation time, seconds from the start of the clip. */
  timeS: number;
  /** Area-averaged grey of a region at width × height, row by row; writes into `out` when given. */
  grey(region: Region, width: number, height: number, out?: Uint8Array): Uint8Array;
  /** Area-averaged RGB of a region at width × height, interleaved; writes into `out` when given. */
  rgb(region: Region, width: number, height: number, out?: Uint8Array): Uint8Array;
  close(): void;
}

/** The frame that a canvas shows. */
export interface PaintedFrame {
  index: number;
  timeS: number;
}

/** A part of the upright picture, all of it, or nothing: then the frame is passed over. */
export type FrameNeed = Region | "whole" | "nothing";

export interface ReadOptions {
  fromS?: number;
  toS?: number;
  signal?: AbortSignal;
  /**
   * What of a frame will be sampled, so that no more is copied; asked once for each frame, in order, and one frame
   * ahead of the one given. Beyond a part that was asked for there is nothing to sample. All of each unless given.
   */
  need?: (timeS: number) => FrameNeed;
}

export interface PaintOptions extends Omit<ReadOptions, "need"> {
  /** Whether the frame at a time is painted; the others are passed over. All are unless told. */
  wanted?: (timeS: number) => boolean;
}

/** An opened clip. Works on a page and in a worker. */
export interface ClipReader {
  readonly facts: ClipFacts;
  /** Every frame once, in order, upright, with its true time. */
  frames(options?: ReadOptions): AsyncGenerator<ClipFrame, void, void>;
  /**
   * The same frames for looking at: each is painted over the whole canvas of `context` and told; the next one only
   * when it is asked for.
   */
  paint(
    context: OffscreenCanvasRenderingContext2D,
    options?: PaintOptions,
  ): AsyncGenerator<PaintedFrame, void, void>;
  /** Presentation times of all frames, seconds. */
  frameTimes(): Promise<number[]>;
  /** Times of the frames that stand for themselves, rising: a picture there is shown soonest. */
  keyTimes(): Promise<number[]>;
  /** The upright picture shown at timeS, at most maxWidthPx wide. Caller closes the bitmap. */
  picture(timeS: number, maxWidthPx?: number): Promise<ImageBitmap>;
  close(): void;
}

/** A sentence for the person who chose the file, with what to do next. */
export class ClipError extends Error {
  override name = "ClipError";
  constructor(
    readonly kind: "not-video" | "truncated" | "no-frames" | "cannot-decode" | "cancelled",
    message: string,
  ) {
    super(message);
  }
}
