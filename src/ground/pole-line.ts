import { linearRegression } from "simple-statistics";
import { median } from "./patches.ts";
import { type Picture, sampleAt } from "./picture.ts";
import type { ImagePoint } from "./types.ts";

/** A pole's middle line, between where its two sides meet the ground behind it. */
export interface PoleLine {
  /** The given ends, moved onto the line at a right angle to the line between them. */
  near: ImagePoint;
  far: ImagePoint;
  /** How wide the pole is drawn at each of them, pixels. */
  nearWidthPx: number;
  farWidthPx: number;
}

/** The part of the pole that is looked at, as shares of the way from the near end to the far one: caps hide the ends. */
const FROM = 0.06;
const TO = 0.94;
const MOST_STATIONS = 100;
/** Samples across the pole lie this far apart, pixels. */
const STEP_PX = 0.5;
/** A pole is drawn as wide as one of these shares of its length, and its far end as wide as that share of its near one. */
const WIDTHS = [0.035, 0.05, 0.07, 0.09, 0.12, 0.16] as const;
const FARTHER_NARROWER = 0.87;
const NARROWEST_PX = 2;
/** Edges stronger than this count no more: one stripe must not outvote the rest. Channel levels a pixel. */
const STRONG_EDGE = 30;
/** Mean strength of the two edges under which there is no pole, channel levels a pixel. */
const FAINTEST = 4;
/** Ground seen to both sides of a pole differs by about so much, channel levels. */
const SAME_GROUND = 25;
/** The ground beside the pole is learnt from this far outside its edges, over this width, along so many stations. */
const BESIDE_PX = 3;
const GROUND_PX = 4;
const GROUND_STATIONS = 6;
/** A colour is not the ground's when it differs by so many of the ground's own deviations, and so many levels at least. */
const UNLIKE_SDS = 2.5;
const UNLIKE_LEVELS = 12;
/** A side is looked for from here inside its rough place to there outside; it belongs to the line found when so near. */
const INSIDE_PX = 1.5;
const OUTSIDE_PX = 2.5;
const BELONGS_PX = 1;
/** So many of the stations must show it. */
const FEWEST_SHARE = 0.35;

/**
 * The middle line of the pole that runs about from `near` to `far`. First the pair of edges is found that changes the
 * picture most, and opposite ways, over the whole length; then each side is followed below a pixel to where the colours
 * become those of the ground beside it: not to where they change most, for the rim of a pole's shaded underside is a
 * stronger edge than the underside's own. Null where no such pair runs within `radiusPx` of both ends.
 * Points count from the picture's corner, as taps do.
 */
export function poleLine(
  picture: Picture,
  ends: { near: ImagePoint; far: ImagePoint },
  radiusPx: number,
): PoleLine | null {
  const length = Math.hypot(ends.far.x - ends.near.x, ends.far.y - ends.near.y);
  if (!(length > 12)) return null;
  const reach = radiusPx + (WIDTHS.at(-1)! * length) / 2 + BESIDE_PX + GROUND_PX + 1;
  const strip = stripAlong(picture, ends, length, reach);
  const rough = likeliestPair(strip, length, radiusPx);
  if (!rough) return null;
  const [left, right] = [sideNear(strip, rough.left, -1), sideNear(strip, rough.right, 1)];
  if (!left || !right) return null;
  const aside = (end: 0 | 1) => (left[end] + right[end]) / 2;
  const width = (end: 0 | 1) => right[end] - left[end];
  if (Math.max(Math.abs(aside(0)), Math.abs(aside(1))) > radiusPx) return null;
  if (Math.min(width(0), width(1)) < NARROWEST_PX / 2) return null;
  const { nx, ny } = strip;
  return {
    near: { x: ends.near.x + aside(0) * nx, y: ends.near.y + aside(0) * ny },
    far: { x: ends.far.x + aside(1) * nx, y: ends.far.y + aside(1) * ny },
    nearWidthPx: width(0),
    farWidthPx: width(1),
  };
}

/** The picture along the pole: stations along it, samples across it. */
interface Strip {
  stations: number;
  /** Samples on each side of the line between the given ends; 2·half + 1 in all. */
  half: number;
  across: number;
  /** Levels of each channel, station by station, sample by sample. */
  levels: Float32Array[];
  /** Their change a pixel across. */
  change: Float32Array[];
  /** Unit vector across. */
  nx: number;
  ny: number;
}

const shareOf = (strip: Strip, station: number) => FROM + ((TO - FROM) * station) / (strip.stations - 1);

function stripAlong(
  picture: Picture,
  { near, far }: { near: ImagePoint; far: ImagePoint },
  length: number,
  reachPx: number,
): Strip {
  const stations = Math.max(8, Math.min(MOST_STATIONS, Math.round((TO - FROM) * length)));
  const half = Math.ceil(reachPx / STEP_PX);
  const across = 2 * half + 1;
  const [dx, dy] = [(far.x - near.x) / length, (far.y - near.y) / length];
  const [nx, ny] = [-dy, dx];
  const empty = () => Array.from({ length: picture.channels }, () => new Float32Array(stations * across));
  const [levels, change] = [empty(), empty()];
  for (let channel = 0; channel < picture.channels; channel++)
    for (let s = 0; s < stations; s++) {
      const along = (FROM + ((TO - FROM) * s) / (stations - 1)) * length;
      const [x, y] = [near.x - 0.5 + along * dx, near.y - 0.5 + along * dy];
      const at = (aside: number) => sampleAt(picture, x + aside * nx, y + aside * ny, channel);
      for (let k = 0; k < across; k++) {
        const aside = (k - half) * STEP_PX;
        levels[channel]![s * across + k] = at(aside);
        change[channel]![s * across + k] = (at(aside + 0.75) - at(aside - 0.75)) / 1.5;
      }
    }
  return { stations, half, across, levels, change, nx, ny };
}

/** Aside at the near end and at the far one, pixels. */
type Side = [number, number];

const valueAt = ([near, far]: Side, share: number) => near + (far - near) * share;

/** Of all places, turns and widths, the one whose two edges change the picture most, and opposite ways. */
function likeliestPair(strip: Strip, length: number, radiusPx: number): { left: Side; right: Side } | null {
  let best: { middle: Side; width: number; strength: number } = {
    middle: [0, 0],
    width: 0,
    strength: FAINTEST,
  };
  const consider = (middle: Side, width: number, every: number) => {
    const strength = strengthOf(strip, middle, width, every);
    if (strength > best.strength) best = { middle, width, strength };
  };
  const coarse = Math.max(1, radiusPx / 14);
  const steps = Math.floor(radiusPx / coarse);
  for (const width of new Set(WIDTHS.map((w) => Math.max(NARROWEST_PX, w * length))))
    for (let a = -steps; a <= steps; a++)
      for (let b = -steps; b <= steps; b++) consider([a * coarse, b * coarse], width, 3);
  if (best.width === 0) return null;
  // What was found on every third station is weighed anew on all of them.
  best.strength = strengthOf(strip, best.middle, best.width, 1);
  for (let step = coarse / 2; step >= 0.25; step /= 2) {
    const { middle, width } = best;
    for (const a of [-1, 0, 1])
      for (const b of [-1, 0, 1])
        for (const w of [-1, 0, 1])
          consider(
            [middle[0] + a * step, middle[1] + b * step],
            Math.max(NARROWEST_PX, width + 2 * w * step),
            1,
          );
  }
  if (best.strength < FAINTEST) return null;
  const halfWidth = (share: number) => (best.width / 2) * (1 - (1 - FARTHER_NARROWER) * share);
  return {
    left: [best.middle[0] - halfWidth(0), best.middle[1] - halfWidth(1)],
    right: [best.middle[0] + halfWidth(0), best.middle[1] + halfWidth(1)],
  };
}

/**
 * Mean over the stations of how much both edges change the picture the opposite way (geometric mean of the two). What
 * lies outside them is the same ground, and what lies between them is not: a shade on the pole, or its shadow, counts for
 * less as an edge of the pole.
 */
function strengthOf(strip: Strip, middle: Side, width: number, every: number): number {
  const { stations, half, across, levels, change } = strip;
  const beside = Math.round(BESIDE_PX / STEP_PX);
  let [sum, n] = [0, 0];
  for (let s = 0; s < stations; s += every) {
    const share = shareOf(strip, s);
    const aside = valueAt(middle, share);
    const halfWidth = (width / 2) * (1 - (1 - FARTHER_NARROWER) * share);
    const l = Math.round((aside - halfWidth) / STEP_PX) + half;
    const r = Math.round((aside + halfWidth) / STEP_PX) + half;
    n++;
    if (l < 0 || r >= across) continue;
    let product = 0;
    for (const values of change) product -= values[s * across + l]! * values[s * across + r]!;
    if (product <= 0) continue;
    const [outsideL, outsideR] = [Math.max(0, l - beside), Math.min(across - 1, r + beside)];
    let apart = 0;
    const inside = [0, 0, 0];
    for (const values of levels) {
      const [a, b] = [values[s * across + outsideL]!, values[s * across + outsideR]!];
      apart = Math.max(apart, Math.abs(a - b));
      for (let q = 0; q < 3; q++) {
        const level = values[s * across + Math.round(l + (r - l) * (0.25 + 0.25 * q))]!;
        inside[q] = Math.max(inside[q]!, Math.abs(level - (a + b) / 2));
      }
    }
    sum +=
      (Math.min(STRONG_EDGE, Math.sqrt(product)) / (1 + (apart / SAME_GROUND) ** 2)) *
      Math.min(1, Math.min(...inside) / SAME_GROUND);
  }
  return sum / n;
}

/**
 * One side of the pole below a pixel: the line through where the stations turn into the ground outside it, its
 * outermost such place within reach. Null where few stations show one.
 */
function sideNear(strip: Strip, rough: Side, way: 1 | -1): Side | null {
  const { stations, half, across, levels } = strip;
  const index = (aside: number) => Math.round(aside / STEP_PX) + half;
  const grounds = Array.from({ length: stations }, (_, s) => {
    const from = valueAt(rough, shareOf(strip, s)) + way * BESIDE_PX;
    return levels.map((values) => groundBeside(values, strip, s, index(from), way));
  });
  const unlike = (s: number, k: number) => {
    let largest = 0;
    levels.forEach((values, channel) => {
      const { level, sd } = grounds[s]![channel]!;
      const scale = Math.max(UNLIKE_LEVELS, UNLIKE_SDS * sd);
      largest = Math.max(largest, Math.abs(values[s * across + k]! - level) / scale);
    });
    return largest;
  };
  let places: { share: number; aside: number }[] = [];
  const step = Math.round(0.5 / STEP_PX);
  for (let s = 0; s < stations; s++) {
    const share = shareOf(strip, s);
    const expected = valueAt(rough, share);
    const [from, to] = [index(expected + way * OUTSIDE_PX), index(expected - way * INSIDE_PX)];
    const fall = (k: number) => unlike(s, k - way * step) - unlike(s, k + way * step);
    let best = from;
    for (let k = from; k !== to; k -= way) {
      if (k < 2 || k >= across - 2) break;
      if (fall(k) > fall(best)) best = k;
    }
    if (best === from || best < 2 || best >= across - 2 || fall(best) < 0.5) continue;
    const [a, b, c] = [fall(best - 1), fall(best), fall(best + 1)];
    const bend = a - 2 * b + c;
    if (b < a || b < c || bend >= 0) continue;
    places.push({ share, aside: (best - half + (0.5 * (a - c)) / bend) * STEP_PX });
  }
  if (places.length < FEWEST_SHARE * stations) return null;
  let side = middling(places);
  for (let round = 0; side && round < 4; round++) {
    const now = side;
    places = places.filter(
      (p) => Math.abs(p.aside - valueAt(now, p.share)) < BELONGS_PX * (round === 0 ? 2 : 1),
    );
    side = places.length < FEWEST_SHARE * stations * 0.7 ? null : lineThrough(places);
  }
  return side;
}

/** Level and spread of one channel just outside one side, from the stations around one of them. */
function groundBeside(values: Float32Array, strip: Strip, station: number, from: number, way: 1 | -1) {
  const { stations, across } = strip;
  const seen: number[] = [];
  const wide = Math.round(GROUND_PX / STEP_PX);
  const first = Math.max(0, station - GROUND_STATIONS);
  for (let s = first; s <= Math.min(stations - 1, station + GROUND_STATIONS); s += 2)
    for (let n = 0; n < wide; n += 2) {
      const k = Math.max(0, Math.min(across - 1, from + way * n));
      seen.push(values[s * across + k]!);
    }
  const level = median(seen);
  return { level, sd: 1.48 * median(seen.map((v) => Math.abs(v - level))) };
}

/** A line that a few odd places do not move: the median of the slopes between the two halves, and of what is left. */
function middling(places: readonly { share: number; aside: number }[]): Side | null {
  const half = places.length >> 1;
  const slopes = places.slice(0, half).map((p, k) => {
    const q = places[k + places.length - half]!;
    return (q.aside - p.aside) / (q.share - p.share);
  });
  if (slopes.length === 0) return null;
  const slope = median(slopes);
  const aside = median(places.map((p) => p.aside - slope * p.share));
  return [aside, aside + slope];
}

function lineThrough(places: readonly { share: number; aside: number }[]): Side {
  const { m, b } = linearRegression(places.map((p) => [p.share, p.aside]));
  return [b, b + m];
}
