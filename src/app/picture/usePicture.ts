import { useEffect, useState } from "react";
import type { ClipReader } from "../../video/types.ts";
import { sentenceOf } from "../keeper.ts";

export interface Shown {
  /** Belongs to the feed and is closed when the next one comes. */
  bitmap: ImageBitmap;
  /** The time it was asked for. */
  timeS: number;
}

/** Fetches one picture at a time; of requests that pile up meanwhile only the newest is served. */
class PictureFeed {
  #wanted: { timeS: number; maxWidthPx: number } | null = null;
  #busy = false;
  #closed = false;
  #shown: ImageBitmap | null = null;

  constructor(
    private readonly reader: ClipReader,
    private readonly onPicture: (shown: Shown) => void,
    private readonly onProblem: (sentence: string) => void,
  ) {}

  ask(timeS: number, maxWidthPx: number): void {
    this.#wanted = { timeS, maxWidthPx };
    if (!this.#busy) void this.#serve();
  }

  close(): void {
    this.#closed = true;
    this.#shown?.close();
  }

  async #serve() {
    this.#busy = true;
    while (this.#wanted && !this.#closed) {
      const { timeS, maxWidthPx } = this.#wanted;
      this.#wanted = null;
      try {
        const bitmap = await this.reader.picture(timeS, maxWidthPx);
        if (this.#closed) {
          bitmap.close();
          break;
        }
        const before = this.#shown;
        this.#shown = bitmap;
        this.onPicture({ bitmap, timeS });
        before?.close();
      } catch (error) {
        if (!this.#closed) this.onProblem(sentenceOf(error));
      }
    }
    this.#busy = false;
  }
}

/** The picture of a clip at a time, and why there is none. While one is on its way the last one stays. */
export function usePicture(
  reader: ClipReader | null,
  timeS: number,
  maxWidthPx: number,
): { shown: Shown | null; problem: string | null } {
  const [feed, setFeed] = useState<PictureFeed | null>(null);
  const [shown, setShown] = useState<Shown | null>(null);
  const [problem, setProblem] = useState<string | null>(null);

  useEffect(() => {
    if (!reader) return;
    const made = new PictureFeed(
      reader,
      (picture) => {
        setShown(picture);
        setProblem(null);
      },
      setProblem,
    );
    setFeed(made);
    return () => {
      made.close();
      setFeed(null);
      setShown(null);
    };
  }, [reader]);

  useEffect(() => feed?.ask(timeS, maxWidthPx), [feed, timeS, maxWidthPx]);
  return { shown, problem };
}
