import { useEffect, useState } from "react";
import type { Keeper } from "../store/types.ts";
import { noteError } from "./problem/trail.ts";

let opened: Promise<Keeper> | undefined;

/** The one keeper of this window; what is kept is opened on first use. */
export function keeper(): Promise<Keeper> {
  opened ??= open();
  return opened;
}

async function open(): Promise<Keeper> {
  const [{ openKeeper }, { settleWork }] = await Promise.all([
    import("../store/open.ts"),
    import("../store/work.ts"),
  ]);
  const made = await openKeeper();
  // What cannot be settled now stays for the next start, and keeps nobody from the rest.
  await settleWork(made).catch(() => {});
  return made;
}

export type Kept<T> =
  | { state: "reading" }
  | { state: "here"; value: T }
  | { state: "failed"; sentence: string };

/**
 * What `read` finds on the device, and again whenever that changes. `read` must keep its identity while it asks for
 * the same thing (useCallback, or a function of the module).
 */
export function useKept<T>(read: (from: Keeper) => Promise<T>): Kept<T> {
  const [kept, setKept] = useState<Kept<T>>({ state: "reading" });
  useEffect(() => {
    let ended = false;
    let end: (() => void) | undefined;
    const failed = (error: unknown) => {
      if (!ended) setKept({ state: "failed", sentence: sentenceOf(error) });
    };
    setKept({ state: "reading" });
    keeper().then((from) => {
      if (ended) return;
      end = from.watch(read, (value) => setKept({ state: "here", value }), failed);
    }, failed);
    return () => {
      ended = true;
      end?.();
    };
  }, [read]);
  return kept;
}

/** The sentence an error carries, fit to be shown; the error is remembered for a problem report. */
export function sentenceOf(error: unknown): string {
  noteError(error);
  const message = error instanceof Error ? error.message : String(error);
  return message || "Something went wrong, and the browser did not say what.";
}
