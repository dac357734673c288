import type { Pass } from "../gait/types.ts";
import { polePlaces } from "./travel.ts";
import type { Layout, PlacedLanding } from "./types.ts";

/**
 * Gives every landing of a pass, hind and fore, its place in the row. Gaps are counted from the pole at x = 0 whatever
 * the direction; a landing exactly at a pole belongs to the gap beyond it.
 * @param movedM how far each pole lay from its laid place when the dog came to it, metres along x: landings are placed
 *   in the row that the dog faced.
 * @throws RangeError when the layout has no gap or a gap that is not positive.
 */
export function placeLandings(pass: Pass, layout: Layout, movedM: readonly number[] = []): PlacedLanding[] {
  checkGaps(layout);
  const poles = polePlaces(layout.gapsM).map((xM, k) => xM + (movedM[k] ?? 0));
  const first = poles[0]!;
  const last = poles[poles.length - 1]!;
  return pass.landings.map((landing) => {
    const gap = layout.gapsM.findIndex((_, g) => landing.xM >= poles[g]! && landing.xM < poles[g + 1]!);
    // Own fields come first and the landing's last: the other way round is ten times slower in V8.
    if (gap < 0) {
      const before = pass.direction === 1 ? landing.xM < first : landing.xM >= last;
      const place = before ? ("approach" as const) : ("leaving" as const);
      return { passId: pass.id, gap: null, offsetM: null, gapFraction: null, place, ...landing };
    }
    const from = poles[gap]!;
    const width = poles[gap + 1]! - from;
    return {
      passId: pass.id,
      gap,
      offsetM: landing.xM - from - width / 2,
      gapFraction: (landing.xM - from) / width,
      place: "row" as const,
      ...landing,
    };
  });
}

/**
 * Knocked poles counted by the gap that the dog entered over them; the pole over which it leaves the row counts with
 * the last gap.
 */
export function knocksPerGap(poles: readonly number[], direction: 1 | -1, gaps: number): number[] {
  const entered = (pole: number) => (direction === 1 ? Math.min(pole, gaps - 1) : Math.max(pole - 1, 0));
  return Array.from({ length: gaps }, (_, gap) => poles.filter((pole) => entered(pole) === gap).length);
}

/** @throws RangeError when the layout has no gap or a gap that is not positive. */
export function checkGaps(layout: Layout): void {
  if (layout.gapsM.length === 0) throw new RangeError("A layout needs two poles or more.");
  const bad = layout.gapsM.findIndex((gap) => !(gap > 0));
  if (bad >= 0) throw new RangeError(`Gap ${bad + 1} of the layout must be longer than 0.`);
}
