import type { GroundProblem, ImagePoint, PoleMarks, PoleTap } from "./types.ts";

export interface Frame {
  widthPx: number;
  heightPx: number;
}

/** Pole length where nobody measured it, metres. */
export const ASSUMED_POLE_LENGTH_M = 0.9;
/** Poles nearer or farther than this are no row for a dog: a slip of the unit. Common practice, no source. */
const SMALLEST_GAP_M = 0.1;
const LARGEST_GAP_M = 3;
/** Taps nearer than this are taken for the same point. */
const SAME_POINT_PX = 3;

export interface CheckedMarks {
  /** The poles with ends put the right way round. */
  poles: PoleTap[];
  poleXM: number[];
  /** +1: x grows to the right of the picture; −1: to the left. */
  mirror: 1 | -1;
  kind: "plane" | "row";
  /** True where little but a dog's height holds the map. */
  upright: boolean;
  problems: GroundProblem[];
}

/** What can be said of the marks before any fit. A problem with `usable: false` means that no fit should be tried. */
export function checkMarks(marks: PoleMarks, frame: Frame): CheckedMarks {
  const problems: GroundProblem[] = [];
  const say = (kind: GroundProblem["kind"], usable: boolean, poles: number[], sentence: string) =>
    problems.push({ kind, usable, poles, sentence });

  const poles = marks.poles.map((pole, k): PoleTap => {
    const { near, far } = finiteEnds(pole);
    if (near && far && far.y - near.y > SAME_POINT_PX) {
      say(
        "wrong-order",
        true,
        [k],
        `The ends of pole ${k + 1} were exchanged, because the near end is the lower one in the picture; tap them again if that is wrong.`,
      );
      return { near: far, far: near };
    }
    return { near, far };
  });

  const poleXM = [0];
  for (const gap of marks.gapsM) poleXM.push(poleXM.at(-1)! + gap);
  if (marks.gapsM.length !== poles.length - 1)
    say(
      "gap-count",
      false,
      [],
      `There are ${counted(poles.length, "pole")} but ${counted(marks.gapsM.length, "distance")} between them: give one distance from each pole to the next, ${Math.max(0, poles.length - 1)} in all.`,
    );
  marks.gapsM.forEach((gap, k) => {
    if (!(gap >= SMALLEST_GAP_M && gap <= LARGEST_GAP_M))
      say(
        "gap-size",
        false,
        [k, k + 1],
        `The distance from pole ${k + 1} to pole ${k + 2} is given as ${spoken(gap)}: it should lie between 10 cm and 3 m. Check the number and its unit.`,
      );
  });

  poles.forEach((pole, k) => {
    const outside = [pole.near, pole.far].some((p) => p && !within(p, frame));
    if (outside)
      say(
        "outside-frame",
        true,
        [k],
        `Pole ${k + 1} is marked outside the picture: its place there is less certain. Tap it on a frame that shows it if you can.`,
      );
  });

  const tapped = poles.flatMap((pole, k) => (pole.near || pole.far ? [k] : []));
  const both = tapped.filter((k) => poles[k]!.near && poles[k]!.far);
  const taps = tapped.length + both.length;
  const kind = both.length >= 2 ? "plane" : "row";
  if (tapped.length < 2 || (taps < 3 && !marks.upright))
    say(
      "too-few-poles",
      false,
      tapped,
      "Too few pole ends are marked: tap both ends of at least two poles, or one end of at least three.",
    );
  else if (kind === "row")
    say(
      "rough",
      true,
      tapped,
      tapped.length >= 3
        ? "Only one end of the poles is marked, so places between the two ends rest on a typical phone's lens: rough. Tap both ends of at least two poles for a safer result."
        : "Hardly any pole ends are marked, so every place rests on a typical phone's lens: very rough. Tap more poles, and both ends of at least two.",
    );

  const points = tapped.map((k) => middleOf(poles[k]!));
  sameEnds(poles).forEach(([i, j]) => {
    say(
      "degenerate",
      false,
      i === j ? [i] : [i, j],
      i === j
        ? `Both ends of pole ${i + 1} are tapped at the same place: tap each end, or leave one of them out.`
        : `Poles ${i + 1} and ${j + 1} are tapped at the same place: tap each pole at its own end.`,
    );
  });
  const order = outOfOrder(points);
  if (order)
    say(
      "wrong-order",
      false,
      order.map((k) => tapped[k]!),
      `The poles are not in the order of the row: ${order.map((k) => `pole ${tapped[k]! + 1}`).join(" and ")} ${order.length > 1 ? "lie" : "lies"} out of turn. Tap the poles one after another from one end of the row to the other.`,
    );

  const [first, last] = [points[0], points.at(-1)];
  return {
    poles,
    poleXM,
    mirror: first && last && last.x < first.x ? -1 : 1,
    kind,
    upright: marks.upright !== undefined && kind === "row",
    problems,
  };
}

function finiteEnds(pole: PoleTap): PoleTap {
  const finite = (p?: ImagePoint) => (p && Number.isFinite(p.x) && Number.isFinite(p.y) ? p : undefined);
  return { near: finite(pole.near), far: finite(pole.far) };
}

function middleOf(pole: PoleTap): ImagePoint {
  const ends = [pole.near, pole.far].filter((p) => p !== undefined);
  return {
    x: ends.reduce((sum, p) => sum + p.x, 0) / ends.length,
    y: ends.reduce((sum, p) => sum + p.y, 0) / ends.length,
  };
}

function sameEnds(poles: readonly PoleTap[]): [number, number][] {
  const same = (a?: ImagePoint, b?: ImagePoint) =>
    a !== undefined && b !== undefined && Math.hypot(a.x - b.x, a.y - b.y) < SAME_POINT_PX;
  const pairs: [number, number][] = [];
  poles.forEach((a, i) => {
    if (same(a.near, a.far)) pairs.push([i, i]);
    poles.slice(i + 1).forEach((b, j) => {
      if (same(a.near, b.near) || same(a.far, b.far)) pairs.push([i, i + 1 + j]);
    });
  });
  return pairs;
}

/** The fewest points whose removal leaves the rest in one direction along the line through first and last. */
function outOfOrder(points: readonly ImagePoint[]): number[] | null {
  if (points.length < 3) return null;
  const along = alongMainAxis(points);
  const ups = longestRun(along);
  const downs = longestRun(along.map((t) => -t));
  const kept = ups.length >= downs.length ? ups : downs;
  if (kept.length === points.length) return null;
  return points.map((_, k) => k).filter((k) => !kept.includes(k));
}

function alongMainAxis(points: readonly ImagePoint[]): number[] {
  const x = points.reduce((sum, p) => sum + p.x, 0) / points.length;
  const y = points.reduce((sum, p) => sum + p.y, 0) / points.length;
  const moment = (of: (dx: number, dy: number) => number) =>
    points.reduce((sum, p) => sum + of(p.x - x, p.y - y), 0);
  const angle =
    0.5 * Math.atan2(2 * moment((dx, dy) => dx * dy), moment((dx) => dx * dx) - moment((_, dy) => dy * dy));
  return points.map((p) => (p.x - x) * Math.cos(angle) + (p.y - y) * Math.sin(angle));
}

/** Indices of a longest increasing subsequence. */
function longestRun(values: readonly number[]): number[] {
  const best: number[][] = [];
  values.forEach((value, i) => {
    const before = best
      .filter((run) => values[run.at(-1)!]! < value)
      .reduce<number[]>((longest, run) => (run.length > longest.length ? run : longest), []);
    best.push([...before, i]);
  });
  return best.reduce((longest, run) => (run.length > longest.length ? run : longest), []);
}

function within(p: ImagePoint, frame: Frame): boolean {
  return p.x >= 0 && p.y >= 0 && p.x <= frame.widthPx && p.y <= frame.heightPx;
}

function counted(n: number, thing: string): string {
  return `${n} ${thing}${n === 1 ? "" : "s"}`;
}

/** A length as a person would say it. */
export function spoken(lengthM: number): string {
  if (!Number.isFinite(lengthM)) return "no number";
  return Math.abs(lengthM) < 1.5 ? `${Math.round(lengthM * 100)} cm` : `${lengthM.toFixed(2)} m`;
}
