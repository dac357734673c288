import { refuse } from "./sentences.ts";
import { shownIndex } from "./timing.ts";

/** An upright picture of one frame. Who gets it closes it. */
export interface FramePicture {
  index: number;
  bitmap: ImageBitmap;
}

/** Decodes the frames from one index to another (inclusive), in order, at a given width. */
export type LoadPictures = (
  fromIndex: number,
  toIndex: number,
  widthPx: number,
) => AsyncGenerator<FramePicture, void, void>;

/** Pictures kept; at 1280 × 720 these are about 130 MB. */
const KEPT = 36;
/** A step of up to this many frames counts as stepping through the clip rather than jumping. */
const STEP = 12;

/**
 * Keeps the pictures around the one on show, so that stepping frame by frame, forwards or backwards, does not decode
 * from the last key frame each time. One request runs at a time.
 */
export class PictureShelf {
  #kept = new Map<number, ImageBitmap>();
  #widthPx = 0;
  #lastIndex = Number.NEGATIVE_INFINITY;
  #queue: Promise<unknown> = Promise.resolve();

  constructor(
    private readonly times: readonly number[],
    private readonly load: LoadPictures,
  ) {}

  /** The picture shown at `timeS`, `widthPx` wide; the caller closes it. */
  async take(timeS: number, widthPx: number): Promise<ImageBitmap> {
    const index = shownIndex(this.times, timeS);
    const turn = this.#queue.then(() => this.#fetch(index, widthPx));
    this.#queue = turn.catch(() => {});
    return turn;
  }

  close(): void {
    for (const bitmap of this.#kept.values()) bitmap.close();
    this.#kept.clear();
  }

  async #fetch(index: number, widthPx: number): Promise<ImageBitmap> {
    if (widthPx !== this.#widthPx) {
      this.close();
      this.#widthPx = widthPx;
    }
    if (!this.#kept.has(index)) {
      const move = index - this.#lastIndex;
      const from = move < 0 && move >= -STEP ? Math.max(0, index - STEP) : index;
      const to = move > 0 && move <= STEP ? Math.min(this.times.length - 1, index + STEP) : index;
      for await (const picture of this.load(from, to, widthPx)) this.#keep(picture);
    }
    this.#lastIndex = index;
    const bitmap = this.#kept.get(index);
    if (!bitmap) throw refuse.damagedPicture(this.times[index] ?? 0);
    return createImageBitmap(bitmap);
  }

  #keep({ index, bitmap }: FramePicture): void {
    this.#kept.get(index)?.close();
    this.#kept.delete(index);
    this.#kept.set(index, bitmap);
    for (const [oldest, old] of this.#kept) {
      if (this.#kept.size <= KEPT) break;
      old.close();
      this.#kept.delete(oldest);
    }
  }
}
