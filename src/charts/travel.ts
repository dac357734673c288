import type { PassJudgement, PlacedLanding } from "../spacing/types.ts";
import { resultant } from "../stats/circular.ts";
import { isHind } from "./marks.ts";

/** A hind landing in the row, read in the direction in which the dog went. */
export interface TravelLanding {
  landing: PlacedLanding;
  /** Index of the gap in the row, from 0 at the first pole. */
  gap: number;
  /** 0 for the gap met first. */
  met: number;
  /** 0 at the pole passed last, 1 at the pole to come. */
  fraction: number;
  /** Past the middle of the gap, metres. */
  offsetM: number;
}

/** The hind landings of one pass that lie in the row, in time order. */
export function travelLandings(pass: PassJudgement, gapCount: number): TravelLanding[] {
  return pass.landings
    .filter((landing) => isHind(landing) && landing.place === "row")
    .sort((a, b) => a.onS - b.onS)
    .flatMap((landing) => {
      const { gap, gapFraction, offsetM } = landing;
      if (gap === null || gapFraction === null || offsetM === null) return [];
      const onward = pass.direction === 1;
      return [
        {
          landing,
          gap,
          met: onward ? gap : gapCount - 1 - gap,
          fraction: onward ? gapFraction : 1 - gapFraction,
          offsetM: onward ? offsetM : -offsetM,
        },
      ];
    });
}

/** The place aimed at in one gap, read in the direction of travel; the middle where none is set. */
export function travelTarget(targetFractions: readonly number[], gap: number, direction: 1 | -1): number {
  const target = targetFractions[gap] ?? 0.5;
  return direction === 1 ? target : 1 - target;
}

/** A pass and its number among all passes of the session, from 1: the same in every drawing and table. */
export interface NumberedPass {
  pass: PassJudgement;
  number: number;
}

/** Passes that count; all of them where none does, so that a drawing never stays empty without need. */
export function numberedPasses(passes: readonly PassJudgement[]): NumberedPass[] {
  const numbered = passes.map((pass, i) => ({ pass, number: i + 1 }));
  const used = numbered.filter(({ pass }) => pass.used);
  return used.length > 0 ? used : numbered;
}

/** The same passes without their numbers. */
export function passesToDraw(passes: readonly PassJudgement[]): PassJudgement[] {
  return numberedPasses(passes).map(({ pass }) => pass);
}

/** "1st", "2nd", "3rd", "4th" */
export function ordinal(n: number): string {
  const tens = n % 100;
  if (tens >= 11 && tens <= 13) return `${n}th`;
  return `${n}${["th", "st", "nd", "rd"][n % 10] ?? "th"}`;
}

/** "1 pass", "3 passes" */
export function countText(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`;
}

/** Mean of shares of a gap on the circle, where 0.98 and 0.02 are neighbours; null where they point nowhere. */
export function meanShare(shares: readonly number[]): number | null {
  const { mean, r } = resultant(shares.map((share) => 2 * Math.PI * share));
  if (r < 1e-6) return null;
  const share = mean / (2 * Math.PI);
  return share < 0 ? share + 1 : share;
}

/** The size shared by all gaps (within 2 mm), metres; null for an uneven row. */
export function evenGap(gapsM: readonly number[]): number | null {
  const [gapM] = gapsM;
  if (gapM === undefined) return null;
  return gapsM.every((gap) => Math.abs(gap - gapM) < 0.002) ? gapM : null;
}
