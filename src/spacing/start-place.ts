import { meanHalfWidth, type Resultant, resultant } from "../stats/circular.ts";
import { thresholds } from "./thresholds.ts";

/** Where landings lie about their targets, all passes together. */
export interface StartPlace {
  /** In slots along travel, −0.5 to 0.5: positive = past the target. */
  turns: number;
  /** How well passes agree, 0 to 1. */
  agreement: number;
  /** Half-width of the 95 % interval of the place, in slots; null where landings are too spread for one. */
  halfWidth: number | null;
}

/** Every pass counts by its landings; agreement is between passes. */
export function meanPlace(passes: readonly Resultant[]): StartPlace {
  const here = passes.filter((p) => p.n > 0);
  const between = resultant(here.map((p) => p.mean));
  const all = resultant(
    here.map((p) => p.mean),
    here.map((p) => p.n),
  );
  // Landings within a pass gather to r as well, so the whole is the product of both.
  const within = here.reduce((sum, p) => sum + p.r * p.n, 0) / Math.max(1, all.n);
  const half = meanHalfWidth({ ...all, r: all.r * within });
  return {
    turns: all.mean / (2 * Math.PI),
    agreement: between.r,
    halfWidth: half === null ? null : half / (2 * Math.PI),
  };
}

/** Far from the target, surely so, and at one place in all passes. */
export function asksForNewStart({ turns, agreement, halfWidth }: StartPlace): boolean {
  return (
    Math.abs(turns) > thresholds.moveStartBeyond &&
    agreement >= thresholds.moveStartAgreement &&
    halfWidth !== null &&
    halfWidth < Math.abs(turns)
  );
}
