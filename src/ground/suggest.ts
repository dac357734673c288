import { type Bar, followBar } from "./bar.ts";
import { type Edge, opponents, straightEdges, turnBetween } from "./edges.ts";
import { median } from "./patches.ts";
import type { Picture } from "./picture.ts";
import type { ImagePoint, PoleTap } from "./types.ts";

export interface PoleSuggestion {
  /** From left to right in the picture. */
  poles: PoleTap[];
  /** 0 to 1: how well the bars found make one row. Under 0.5, ask for taps instead of showing them. */
  confidence: number;
}

/** The strongest straight edges that are looked at. */
const MOST_EDGES = 400;
const MOST_BARS = 80;
/** Half angle about "lying flat" within which a row may run through the picture. */
const STEEPEST_ROW = (35 * Math.PI) / 180;

/**
 * Suggests the poles of a row so that the person only confirms: bars that stand out from the ground, whose near
 * ends lie on one line and whose far ends lie on another, and whose places agree with even spacing seen in
 * perspective where they can. Finds nothing rather than guess. Points count from the picture's corner, as taps do.
 * @param picture the reference frame, 800 to 1300 pixels wide, grey or colour (colour sees a red pole on grass).
 * @param options.poles how many poles were laid, where that is known.
 */
export function suggestPoles(picture: Picture, options: { poles?: number | undefined } = {}): PoleSuggestion {
  const bars = barsOf(picture)
    .sort((a, b) => b.contrast - a.contrast)
    .slice(0, MOST_BARS);
  const row = bestRow(bars, picture);
  if (!row) return { poles: [], confidence: 0 };
  const found = complete(row.bars, picture, options.poles);
  const ordered = [...found].sort((a, b) => a.near.x - b.near.x);
  const share = options.poles ? Math.min(ordered.length / options.poles, options.poles / ordered.length) : 1;
  return {
    poles: ordered.map((p) => ({ near: onPicture(p.near), far: onPicture(p.far) })),
    confidence: (share * regularity(row.bars)) / (1 + 10 * row.falseAlarms),
  };
}

interface Candidate {
  near: ImagePoint;
  far: ImagePoint;
  widthPx: number;
  contrast: number;
}

const onPicture = (p: ImagePoint): ImagePoint => ({ x: p.x + 0.5, y: p.y + 0.5 });

/** Bars between two edges that face each other, pieces of one (stripes, something lying across) joined. */
function barsOf(picture: Picture): Candidate[] {
  const longSide = Math.max(picture.width, picture.height);
  const pieces = opponents(picture).flatMap((plane) => {
    const edges = straightEdges(plane, 0.006 * longSide)
      .sort((a, b) => b.strength * Math.sqrt(lengthOf(b)) - a.strength * Math.sqrt(lengthOf(a)))
      .slice(0, MOST_EDGES);
    return edges.flatMap((a, i) => edges.slice(i + 1).flatMap((b) => between(a, b, 0.03 * longSide) ?? []));
  });
  return joined(distinct(pieces)).filter((c) => slender(c, longSide));
}

/** The bar between two edges that face each other over at most `widest` pixels; null where they do not. */
function between(a: Edge, b: Edge, widest: number): Candidate | null {
  if (turnBetween(a.gradient, b.gradient + Math.PI) > 0.2) return null;
  const [c, s] = [(a.to.x - a.from.x) / lengthOf(a), (a.to.y - a.from.y) / lengthOf(a)];
  const along = (p: ImagePoint) => (p.x - a.from.x) * c + (p.y - a.from.y) * s;
  const aside = (p: ImagePoint) => (p.y - a.from.y) * c - (p.x - a.from.x) * s;
  const [t0, t1] = [along(b.from), along(b.to)].sort((x, y) => x - y) as [number, number];
  const overlap = Math.min(lengthOf(a), t1) - Math.max(0, t0);
  if (overlap < 0.6 * Math.max(lengthOf(a), lengthOf(b))) return null;
  const offset = (aside(b.from) + aside(b.to)) / 2;
  if (Math.abs(offset) < 1.2 || Math.abs(offset) > widest) return null;
  const ends = [a.from, a.to].map((p) => {
    const other = Math.abs(along(b.from) - along(p)) < Math.abs(along(b.to) - along(p)) ? b.from : b.to;
    return { x: (p.x + other.x) / 2, y: (p.y + other.y) / 2 };
  });
  const [p, q] = ends as [ImagePoint, ImagePoint];
  const [near, far] = p.y >= q.y ? [p, q] : [q, p];
  return { near, far, widthPx: Math.abs(offset), contrast: Math.min(a.strength, b.strength) };
}

/** Joins pieces that lie in one line and nearly touch. */
function joined(pieces: readonly Candidate[]): Candidate[] {
  const bars = [...pieces];
  for (let again = true; again; ) {
    again = false;
    search: for (let i = 0; i < bars.length; i++)
      for (let j = i + 1; j < bars.length; j++) {
        const whole = union(bars[i]!, bars[j]!);
        if (!whole) continue;
        bars.splice(j, 1);
        bars[i] = whole;
        again = true;
        break search;
      }
  }
  return bars;
}

function union(a: Candidate, b: Candidate): Candidate | null {
  const ends = [a.near, a.far, b.near, b.far];
  const [near, far] = ends
    .flatMap((p, i) =>
      ends.slice(i + 1).map((q) => (p.y >= q.y ? [p, q] : [q, p]) as [ImagePoint, ImagePoint]),
    )
    .reduce((long, pair) => (distance(pair[0], pair[1]) > distance(long[0], long[1]) ? pair : long));
  const whole = {
    near,
    far,
    widthPx: Math.max(a.widthPx, b.widthPx),
    contrast: Math.min(a.contrast, b.contrast),
  };
  const gap = span(whole) - span(a) - span(b);
  if (gap > 1.2 * Math.max(span(a), span(b)) || gap < -0.5 * Math.min(span(a), span(b))) return null;
  if (ends.some((p) => distanceTo(whole, p) > 0.6 * whole.widthPx)) return null;
  return Math.min(a.widthPx, b.widthPx) > 0.5 * whole.widthPx ? whole : null;
}

function lengthOf(edge: Edge): number {
  return Math.hypot(edge.to.x - edge.from.x, edge.to.y - edge.from.y);
}

function distance(p: ImagePoint, q: ImagePoint): number {
  return Math.hypot(p.x - q.x, p.y - q.y);
}

function slender(bar: Candidate, longSide: number): boolean {
  const length = span(bar);
  return length > 2.5 * bar.widthPx && length > 0.015 * longSide && length < 0.6 * longSide;
}

function candidate(bar: Bar): Candidate {
  const [a, b] = bar.ends;
  const [near, far] = a.y >= b.y ? [a, b] : [b, a];
  return { near, far, widthPx: bar.widthPx, contrast: bar.contrast };
}

/** One bar is found through several pairs of edges: the one that stands out most stays. */
function distinct(candidates: readonly Candidate[]): Candidate[] {
  const kept: Candidate[] = [];
  for (const c of [...candidates].sort((a, b) => b.contrast * span(b) - a.contrast * span(a)))
    if (!kept.some((k) => sameBar(k, c))) kept.push(c);
  return kept;
}

function sameBar(a: Candidate, b: Candidate): boolean {
  const reach = Math.max(a.widthPx, b.widthPx, 3) * 1.5;
  return (
    Math.min(distanceTo(a, b.near) + distanceTo(a, b.far), distanceTo(b, a.near) + distanceTo(b, a.far)) <
    reach
  );
}

/** Distance from a bar's middle line, ends included. */
function distanceTo(bar: Candidate, p: ImagePoint): number {
  const [dx, dy] = [bar.far.x - bar.near.x, bar.far.y - bar.near.y];
  const t = Math.max(
    0,
    Math.min(1, ((p.x - bar.near.x) * dx + (p.y - bar.near.y) * dy) / (dx * dx + dy * dy)),
  );
  return Math.hypot(p.x - bar.near.x - t * dx, p.y - bar.near.y - t * dy);
}

function span(c: Candidate): number {
  return Math.hypot(c.far.x - c.near.x, c.far.y - c.near.y);
}

interface Row {
  bars: Candidate[];
  /** Expected number of rows as good as this among bars thrown down at random. */
  falseAlarms: number;
}

/**
 * Of all pairs of bars, the one whose two lines of ends gather more bars than chance would: the smallest number of
 * false alarms (Desolneux, Moisan and Morel, IJCV 2000;40:7), evenness counted in.
 */
function bestRow(bars: readonly Candidate[], picture: Picture): Row | null {
  const tolerance = 0.006 * Math.max(picture.width, picture.height);
  // Chance that both ends of a bar thrown into half the picture's height come within the tolerance of two lines.
  const byChance = ((2 * tolerance) / (0.5 * picture.height)) ** 2;
  let best: Row | null = null;
  let bestScore = Number.NEGATIVE_INFINITY;
  bars.forEach((a, i) => {
    for (const b of bars.slice(i + 1)) {
      if (!flatEnough(a.near, b.near) || !flatEnough(a.far, b.far)) continue;
      if (Math.abs(a.near.x - b.near.x) < 0.08 * picture.width) continue;
      // Pieces of one line, such as the foot of a wall, have their ends on one line too.
      if (aside(a.near, b.near, a.far) < 1.5 * tolerance || aside(a.near, b.near, b.far) < 1.5 * tolerance)
        continue;
      const row = thinned(
        bars.filter(
          (c) =>
            aside(a.near, b.near, c.near) < tolerance &&
            aside(a.far, b.far, c.far) < tolerance &&
            c.contrast > 0.4 * Math.min(a.contrast, b.contrast) &&
            c.widthPx < 3 * a.widthPx &&
            a.widthPx < 3 * c.widthPx,
        ),
      );
      if (row.length < 3) continue;
      const faintest = Math.min(...row.map((c) => c.contrast));
      const rivals = Math.max(row.length, bars.filter((c) => c.contrast >= 0.9 * faintest).length);
      const falseAlarms =
        ((rivals * (rivals - 1)) / 2) * choose(rivals - 2, row.length - 2) * byChance ** (row.length - 2);
      const score = -Math.log(falseAlarms) + 6 * Math.log(regularity(row));
      if (score > bestScore) {
        bestScore = score;
        best = { bars: row, falseAlarms };
      }
    }
  });
  return best;
}

function choose(n: number, k: number): number {
  let ways = 1;
  for (let i = 1; i <= k; i++) ways *= (n - k + i) / i;
  return ways;
}

function flatEnough(p: ImagePoint, q: ImagePoint): boolean {
  const angle = Math.atan2(Math.abs(q.y - p.y), Math.abs(q.x - p.x));
  return angle < STEEPEST_ROW;
}

function aside(p: ImagePoint, q: ImagePoint, r: ImagePoint): number {
  const length = Math.hypot(q.x - p.x, q.y - p.y);
  return Math.abs((q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x)) / length;
}

/** Left to right, of two bars that all but touch only the stronger. */
function thinned(row: readonly Candidate[]): Candidate[] {
  const kept: Candidate[] = [];
  for (const c of [...row].sort((a, b) => b.contrast * span(b) - a.contrast * span(a)))
    if (!kept.some((k) => Math.abs(k.near.x - c.near.x) < 2.5 * Math.max(k.widthPx, c.widthPx))) kept.push(c);
  return kept.sort((a, b) => a.near.x - b.near.x);
}

/**
 * 0 to 1: how well the near ends of a row, left to right, agree with whole numbers of one spacing in perspective.
 * Uneven rows are laid on purpose too: the lowest is 0.5.
 */
function regularity(row: readonly Candidate[]): number {
  const places = evenPlaces(row);
  return places ? 0.5 + 0.5 * Math.exp(-places.misfit / 0.06) : 0.5;
}

/** The 1-D projective map from whole numbers to the near ends, and the bars' numbers; null without a good one. */
function evenPlaces(row: readonly Candidate[]) {
  const first = row[0]!;
  const last = row.at(-1)!;
  const length = Math.hypot(last.near.x - first.near.x, last.near.y - first.near.y);
  const along = row.map((c) => Math.hypot(c.near.x - first.near.x, c.near.y - first.near.y) / length);
  let best: { gaps: number; perspective: number; misfit: number; numbers: number[] } | null = null;
  for (let gaps = row.length - 1; gaps <= row.length + 2; gaps++)
    // t = n·(1 + q) / (gaps + n·q) takes 0 to 0 and `gaps` to 1; q bends the scale.
    for (let q = -0.6; q <= 1.5; q += 0.02) {
      const numbers = along.map((t) => (t * gaps) / (1 + q - t * q));
      const whole = numbers.map((n) => Math.round(n));
      if (new Set(whole).size < row.length) continue;
      // Empty places between poles speak against a spacing that fine.
      const misfit =
        Math.max(...numbers.map((n, k) => Math.abs(n - whole[k]!))) + 0.08 * (gaps - row.length + 1);
      if (!best || misfit < best.misfit) best = { gaps, perspective: q, misfit, numbers: whole };
    }
  return best;
}

/** Looks again, with less demand, where an even row lacks a pole inside it or at its ends. */
function complete(row: readonly Candidate[], picture: Picture, wanted: number | undefined): Candidate[] {
  const places = evenPlaces(row);
  if (row.length < 3 || !places || places.misfit - 0.08 * (places.gaps - row.length + 1) > 0.08)
    return [...row];
  const { gaps, perspective: q } = places;
  const placeOf = (n: number, end: "near" | "far"): ImagePoint => {
    const [a, b] = [row[0]![end], row.at(-1)![end]];
    const t = (n * (1 + qOf(end))) / (gaps + n * qOf(end));
    return { x: a.x + t * (b.x - a.x), y: a.y + t * (b.y - a.y) };
  };
  const farQ = bend(row, places.numbers, gaps);
  const qOf = (end: "near" | "far") => (end === "near" ? q : farQ);
  const found = [...row];
  const usual = median(row.map((c) => c.contrast));
  const inwardsOut = Array.from({ length: gaps + 5 }, (_, k) => k - 2).sort(
    (a, b) => Math.abs(a - gaps / 2) - Math.abs(b - gaps / 2),
  );
  for (const n of inwardsOut) {
    if (places.numbers.includes(n) || (wanted !== undefined && found.length >= wanted)) continue;
    // Beyond the ends, where nobody said that there is a pole, only one that looks like the others will do.
    const demanding = wanted === undefined && (n < 0 || n > gaps);
    const [near, far] = [placeOf(n, "near"), placeOf(n, "far")];
    const middle = { x: (near.x + far.x) / 2, y: (near.y + far.y) / 2 };
    if (middle.x < 0 || middle.x > picture.width || middle.y < 0 || middle.y > picture.height) continue;
    const angle = Math.atan2(far.y - near.y, far.x - near.x);
    const bar = followBar(picture, middle, angle, median(row.map((c) => c.widthPx)));
    if (!bar || bar.contrast < (demanding ? 0.6 : 0.3) * usual) continue;
    const c = candidate(bar);
    const reach = (demanding ? 0.12 : 0.25) * span({ ...c, near, far });
    if (
      Math.hypot(c.near.x - near.x, c.near.y - near.y) < reach &&
      Math.hypot(c.far.x - far.x, c.far.y - far.y) < reach
    )
      found.push(c);
  }
  return found;
}

/** The bend of the far ends' scale, least squares over a fan. */
function bend(row: readonly Candidate[], numbers: readonly number[], gaps: number): number {
  const [a, b] = [row[0]!.far, row.at(-1)!.far];
  const length = Math.hypot(b.x - a.x, b.y - a.y);
  let best = { q: 0, cost: Number.POSITIVE_INFINITY };
  for (let q = -0.6; q <= 1.5; q += 0.02) {
    const cost = row.reduce((sum, c, k) => {
      const t = Math.hypot(c.far.x - a.x, c.far.y - a.y) / length;
      return sum + (t - (numbers[k]! * (1 + q)) / (gaps + numbers[k]! * q)) ** 2;
    }, 0);
    if (cost < best.cost) best = { q, cost };
  }
  return best.q;
}
