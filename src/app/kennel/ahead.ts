import { useState } from "react";

/**
 * A record as it will be once the change just made is kept, so that a control answers at once. `keep` tells whether the
 * change was kept; where it was not, the record falls back to what is.
 */
export function useAhead<T extends { changedAt: number }, Part extends Partial<T>>(
  kept: T,
  keep: (part: Part) => Promise<boolean>,
): [shown: T, change: (part: Part) => Promise<void>] {
  const [ahead, setAhead] = useState(kept);
  // What comes back from the device after a change carries a later time than the guess made here.
  const shown = kept.changedAt >= ahead.changedAt ? kept : ahead;
  const change = async (part: Part) => {
    setAhead({ ...shown, ...part, changedAt: Date.now() });
    if (!(await keep(part))) setAhead(kept);
  };
  return [shown, change];
}
