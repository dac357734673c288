import { createContext, useContext, useEffect, useState } from "react";
import type { ClipReader } from "../video/types.ts";
import { keeper, sentenceOf } from "./keeper.ts";

/** An opened clip with the time of each of its frames. */
export interface Film {
  blob: Blob;
  reader: ClipReader;
  /** Presentation time of each frame, seconds, rising. */
  times: number[];
  /** Those of frames that are shown at once; never empty. */
  keyTimes: number[];
}

export type FilmState =
  | { state: "opening"; done: number }
  | { state: "open"; film: Film }
  /** The film is not on this device any more; what was measured from it is. */
  | { state: "gone" }
  | { state: "failed"; sentence: string };

/**
 * Opens a film, telling how far it has come (0 to 1) where that takes a while. `mayFetchProgram` is asked before a
 * decoder of so many bytes is fetched for it. Rejects with a ClipError.
 */
export async function openFilm(
  blob: Blob,
  fileName: string,
  onProgress?: (done: number) => void,
  signal?: AbortSignal,
  mayFetchProgram?: (bytes: number) => Promise<boolean>,
): Promise<Film> {
  const { openClip } = await import("../video/open.ts");
  const reader = await openClip(blob, { fileName, signal, onFallbackProgress: onProgress, mayFetchProgram });
  const times = await reader.frameTimes();
  const keys = await reader.keyTimes();
  return { blob, reader, times, keyTimes: keys.length > 0 ? keys : times.slice(0, 1) };
}

/** The film last opened: going from screen to screen, or from adding it to looking at it, must not open it again. */
let inHand: { clipId: string; film: Film } | null = null;

export function takeInHand(clipId: string, film: Film): void {
  if (inHand && inHand.film !== film) inHand.film.reader.close();
  inHand = { clipId, film };
}

/** The film of a clip: the one in hand, else from the device. */
export function useFilmOf(clipId: string, fileName: string | null): [FilmState, (replacement: Film) => void] {
  const [state, setState] = useState<FilmState>({ state: "opening", done: 0 });
  useEffect(() => {
    if (fileName === null) return;
    if (inHand?.clipId === clipId) {
      setState({ state: "open", film: inHand.film });
      return;
    }
    const stop = new AbortController();
    setState({ state: "opening", done: 0 });
    const load = async (): Promise<FilmState> => {
      const blob = await (await keeper()).getClipBlob(clipId);
      if (!blob) return { state: "gone" };
      const onProgress = (done: number) => {
        if (!stop.signal.aborted) setState({ state: "opening", done });
      };
      const film = await openFilm(blob, fileName, onProgress, stop.signal);
      if (stop.signal.aborted) film.reader.close();
      else takeInHand(clipId, film);
      return { state: "open", film };
    };
    load().then(
      (loaded) => {
        if (!stop.signal.aborted) setState(loaded);
      },
      (error) => {
        if (!stop.signal.aborted) setState({ state: "failed", sentence: sentenceOf(error) });
      },
    );
    return () => stop.abort();
  }, [clipId, fileName]);
  const replace = (film: Film) => {
    takeInHand(clipId, film);
    setState({ state: "open", film });
  };
  return [state, replace];
}

export interface FilmAtHand {
  film: FilmState;
  /** Puts a film picked again in the place of one that was gone. */
  replaceFilm(film: Film): void;
}

export const FilmContext = createContext<FilmAtHand | null>(null);

/** The film of the clip in the address. */
export function useFilm(): FilmAtHand {
  const atHand = useContext(FilmContext);
  if (!atHand) throw new Error("useFilm is only for the screens of one clip.");
  return atHand;
}

/** Index of the frame shown at a time: the last one that starts no later. */
export function frameAt(times: readonly number[], timeS: number): number {
  let low = 0;
  let high = times.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    // A tick of tolerance: times come back from storage and from text rounded.
    if ((times[middle] ?? 0) <= timeS + 1e-4) low = middle;
    else high = middle - 1;
  }
  return Math.max(0, low);
}
