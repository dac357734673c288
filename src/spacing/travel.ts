import type { Layout } from "./types.ts";

/** The row as the dog meets it: metres along its way, 0 at the first pole met. */
export interface TravelRow {
  direction: 1 | -1;
  polesM: number[];
  lengthM: number;
  /** Places where a hind foot should land, in order: one or two to a gap. */
  slotsM: number[];
  /** Hind landings expected in each gap. */
  perGap: 1 | 2;
  /** Mean distance between slots, metres. */
  pitchM: number;
  /** True where slots are equally far apart, so that the row can be thought on past its ends. */
  even: boolean;
}

/** Distances of poles from the first, metres; one more than gaps. */
export function polePlaces(gapsM: readonly number[]): number[] {
  const places = [0];
  for (const gap of gapsM) places.push(places[places.length - 1]! + gap);
  return places;
}

/**
 * @param perGap 1: a hind landing at each target; 2: each hind foot once a gap, half a gap apart about the middle,
 * so that targets are not used.
 */
export function travelRow(layout: Layout, direction: 1 | -1, perGap: 1 | 2): TravelRow {
  const gaps = direction === 1 ? layout.gapsM : layout.gapsM.toReversed();
  const fractions =
    direction === 1 ? layout.targetFractions : layout.targetFractions.map((f) => 1 - f).toReversed();
  const polesM = polePlaces(gaps);
  const slotsM = gaps.flatMap((gap, g) => {
    const from = polesM[g]!;
    return perGap === 2 ? [from + gap / 4, from + (3 * gap) / 4] : [from + gap * (fractions[g] ?? 0.5)];
  });
  const lengthM = polesM[polesM.length - 1]!;
  const pitchM =
    slotsM.length > 1
      ? (slotsM[slotsM.length - 1]! - slotsM[0]!) / (slotsM.length - 1)
      : lengthM / Math.max(1, slotsM.length);
  const even = slotsM.every((s, i) => i === 0 || Math.abs(s - slotsM[i - 1]! - pitchM) < 0.005);
  return { direction, polesM, lengthM, slotsM, perGap, pitchM, even };
}

/** A ground x as metres along the dog's way from the first pole it meets. */
export function alongTravel(row: TravelRow, xM: number): number {
  return row.direction === 1 ? xM : row.lengthM - xM;
}

/** Where a place lies among the slots: 0 at the first, 1 at the second; runs on at the end pitch outside. */
export function slotCoordinate(row: TravelRow, uM: number): number {
  const { slotsM } = row;
  if (row.even || slotsM.length < 2) return (uM - slotsM[0]!) / row.pitchM;
  let i = 0;
  while (i < slotsM.length - 2 && uM > slotsM[i + 1]!) i++;
  return i + (uM - slotsM[i]!) / (slotsM[i + 1]! - slotsM[i]!);
}
