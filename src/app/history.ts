/** What was, what is, and what was taken back. */
export interface History<T> {
  past: readonly T[];
  now: T;
  future: readonly T[];
  /** Names the gesture that made `now`; a further change with the same key belongs to the same gesture. */
  key: string | null;
}

/** Steps that can be taken back; older ones are let go. */
const deepest = 200;

export function begin<T>(now: T): History<T> {
  return { past: [], now, future: [], key: null };
}

/**
 * A step forward. With a key, steps of one gesture (a drag, a run of nudges) are taken back in one go.
 */
export function step<T>(history: History<T>, next: T, key: string | null = null): History<T> {
  if (next === history.now) return history;
  const sameGesture = key !== null && key === history.key;
  const past = sameGesture ? history.past : [...history.past, history.now].slice(-deepest);
  return { past, now: next, future: [], key };
}

export function undo<T>(history: History<T>): History<T> {
  const last = history.past.at(-1);
  if (history.past.length === 0) return history;
  return {
    past: history.past.slice(0, -1),
    now: last as T,
    future: [history.now, ...history.future],
    key: null,
  };
}

export function redo<T>(history: History<T>): History<T> {
  if (history.future.length === 0) return history;
  return {
    past: [...history.past, history.now],
    now: history.future[0] as T,
    future: history.future.slice(1),
    key: null,
  };
}
