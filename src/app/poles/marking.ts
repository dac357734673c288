import type { WholePole } from "../../ground/rest-of-row.ts";
import type { ImagePoint, PoleMarks, PoleTap } from "../../ground/types.ts";
import type { Part } from "../picture/view.ts";

export type End = "near" | "far";

/** One end of one pole; of pole `UPRIGHT`, near is the ground under the dog and far its withers. */
export interface Slot {
  pole: number;
  end: End;
}

export const UPRIGHT = -1;
/** Height that is taken until one is typed, metres: a dog of middle size. */
const SOME_WITHERS_M = 0.5;
/** Where the withers are first put above the foot, as a share of the marked row's width in the picture. */
const WITHERS_SHARE = 0.2;

/** The row as typed: null where a gap has not been given. */
export interface Row {
  even: boolean;
  /** Used for every gap of an even row, and for gaps that have no number of their own yet. */
  spacingM: number | null;
  gapsM: (number | null)[];
}

/** What a person is asked to tap. */
export function slotTold({ pole, end }: Slot): string {
  if (pole !== UPRIGHT) return `pole ${pole + 1}, ${end} end`;
  return end === "near" ? "the ground under the dog's forefeet" : "the dog's withers";
}

export function sameSlot(a: Slot | null, b: Slot | null): boolean {
  return a?.pole === b?.pole && a?.end === b?.end;
}

export function pointAt(marks: PoleMarks, slot: Slot): ImagePoint | undefined {
  if (slot.pole === UPRIGHT) return slot.end === "near" ? marks.upright?.foot : marks.upright?.top;
  return marks.poles[slot.pole]?.[slot.end];
}

export function allPoints(marks: PoleMarks): ImagePoint[] {
  const ends = marks.poles.flatMap((pole) => [pole.near, pole.far]);
  return ends.filter((point) => point !== undefined);
}

/** The poles if every one has both ends; null otherwise. */
export function wholePoles(marks: PoleMarks): WholePole[] | null {
  const whole = marks.poles.flatMap(({ near, far }) => (near && far ? [{ near, far }] : []));
  return whole.length > 0 && whole.length === marks.poles.length ? whole : null;
}

/** The end to tap after `slot`: the far end of the same pole, then the next pole. */
export function slotAfter(marks: PoleMarks, slot: Slot): Slot {
  if (slot.pole === UPRIGHT) return slot.end === "near" ? { pole: UPRIGHT, end: "far" } : openSlot(marks);
  if (slot.end === "near" && !marks.poles[slot.pole]?.far) return { pole: slot.pole, end: "far" };
  return { pole: slot.pole + 1, end: "near" };
}

/** The end to tap when coming to the screen: a new pole after the last one. */
export function openSlot(marks: PoleMarks): Slot {
  const last = marks.poles.length - 1;
  const pole = marks.poles[last];
  if (pole?.near && !pole.far) return { pole: last, end: "far" };
  return { pole: marks.poles.length, end: "near" };
}

export function withPoint(marks: PoleMarks, slot: Slot, point: ImagePoint, row: Row): PoleMarks {
  if (slot.pole === UPRIGHT) return { ...marks, upright: uprightWith(marks, slot.end, point) };
  const poles = [...marks.poles];
  while (poles.length <= slot.pole) poles.push({});
  poles[slot.pole] = { ...poles[slot.pole], [slot.end]: point };
  return withRow({ ...marks, poles }, row);
}

/** The foot alone puts the withers somewhere above it, to be tapped or dragged into place next. */
function uprightWith(marks: PoleMarks, end: End, point: ImagePoint): NonNullable<PoleMarks["upright"]> {
  const xs = allPoints(marks).map((p) => p.x);
  const up = Math.max(40, WITHERS_SHARE * (Math.max(...xs) - Math.min(...xs)) || 0);
  const { foot, top, heightM = SOME_WITHERS_M } = marks.upright ?? {};
  return end === "near"
    ? { foot: point, top: top ?? { x: point.x, y: Math.max(0, point.y - up) }, heightM }
    : { foot: foot ?? { x: point.x, y: point.y + up }, top: point, heightM };
}

export function withoutPoint(marks: PoleMarks, slot: Slot, row: Row): PoleMarks {
  if (slot.pole === UPRIGHT) return { ...marks, upright: undefined };
  const pole = marks.poles[slot.pole];
  if (!pole) return marks;
  const left: PoleTap = slot.end === "near" ? { far: pole.far } : { near: pole.near };
  if (!left.near && !left.far) return withoutPole(marks, slot.pole, row);
  return { ...marks, poles: marks.poles.map((one, k) => (k === slot.pole ? left : one)) };
}

/** The gaps on either side of the pole become one where the row is uneven. */
export function withoutPole(marks: PoleMarks, pole: number, row: Row): PoleMarks {
  return withRow({ ...marks, poles: marks.poles.filter((_, k) => k !== pole) }, rowWithoutPole(row, pole));
}

export function rowWithoutPole(row: Row, pole: number): Row {
  if (row.even) return row;
  const gaps = [...row.gapsM];
  const [before, after] = [gaps[pole - 1], gaps[pole]];
  if (pole === 0) gaps.shift();
  else if (typeof before === "number" && typeof after === "number") gaps.splice(pole - 1, 2, before + after);
  else gaps.splice(pole - 1, 1);
  return { ...row, gapsM: gaps };
}

/** Gap k of the row as it counts: its own number, or the spacing; null where neither is given. */
export function gapOf(row: Row, gap: number): number | null {
  return row.even ? row.spacingM : (row.gapsM[gap] ?? row.spacingM);
}

/** The marks with the typed gaps; without gaps while one is missing. */
export function withRow(marks: PoleMarks, row: Row): PoleMarks {
  const gaps = Array.from({ length: Math.max(0, marks.poles.length - 1) }, (_, gap) => gapOf(row, gap));
  const complete = gaps.every((gap) => gap !== null);
  return { ...marks, gapsM: complete ? gaps : [] };
}

/** The row that marks were made with; before there is one, the row that was planned. */
export function rowOf(marks: PoleMarks, planned: readonly number[] | null): Row {
  const gaps = marks.gapsM.length > 0 ? marks.gapsM : (planned ?? []);
  const first = gaps[0] ?? null;
  return {
    even: gaps.every((gap) => Math.abs(gap - (first ?? gap)) < 1e-6),
    spacingM: first,
    gapsM: [...gaps],
  };
}

/** The part of the picture around the marks, with room for a dog above them; null while there are too few. */
export function aroundRow(points: readonly ImagePoint[]): Part | null {
  if (points.length < 2) return null;
  const xs = points.map((point) => point.x);
  const ys = points.map((point) => point.y);
  const [left, right] = [Math.min(...xs), Math.max(...xs)];
  const [top, bottom] = [Math.min(...ys), Math.max(...ys)];
  const width = (right - left) * 1.25;
  // A dog is about as high as a gap is long, and a row has four gaps or so.
  const above = (right - left) * 0.3;
  const below = (right - left) * 0.1;
  return {
    x: left - (width - (right - left)) / 2,
    y: top - above,
    width,
    height: bottom - top + above + below,
  };
}

/** The mark within reach of a point, the nearest first; null when there is none. */
export function slotNear(marks: PoleMarks, at: ImagePoint, reach: number): Slot | null {
  let nearest: Slot | null = null;
  let distance = reach;
  [UPRIGHT, ...marks.poles.keys()].forEach((k) => {
    for (const end of ["near", "far"] as const) {
      const point = pointAt(marks, { pole: k, end });
      const away = point ? Math.hypot(point.x - at.x, point.y - at.y) : Number.POSITIVE_INFINITY;
      if (away < distance) {
        nearest = { pole: k, end };
        distance = away;
      }
    }
  });
  return nearest;
}
