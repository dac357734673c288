import { median } from "./patches.ts";
import { type Picture, sampleAt } from "./picture.ts";
import type { ImagePoint } from "./types.ts";

/** A straight bar of even width in a picture, as far as it could be followed. Pixels. */
export interface Bar {
  /** Ends of its middle line. */
  ends: [ImagePoint, ImagePoint];
  widthPx: number;
  /** How much it differs from the ground beside it, in channel levels. */
  contrast: number;
}

/** Fainter than this a bar is part of the ground's own pattern, channel levels. */
const FAINTEST = 10;
/** Breaks along a bar that are bridged, in widths: a paw, a lead. */
const BRIDGED_WIDTHS = 2;

/**
 * Follows the bar that runs near `start` in direction `angle` (radians) both ways until it no longer stands out
 * from the ground on both sides. Null where nothing stands out at the start.
 * @param widthPx width to look for; refined.
 */
export function followBar(picture: Picture, start: ImagePoint, angle: number, widthPx: number): Bar | null {
  let line = settle(picture, { at: start, angle, widthPx, contrast: 0 }, Math.max(6, 2 * widthPx));
  let reach: [number, number] = [0, 0];
  // A direction read off a short piece misses the far end of a long bar: what was followed gives a better one.
  for (let round = 0; line && round < 3; round++) {
    reach = [-lastInside(picture, line, -1), lastInside(picture, line, 1)];
    const length = reach[1] - reach[0];
    if (round === 2 || length < 8 * line.widthPx) break;
    line = settle(picture, { ...line, at: along(line, (reach[0] + reach[1]) / 2) }, 0.45 * length);
  }
  if (!line) return null;
  return {
    ends: [along(line, reach[0]), along(line, reach[1])],
    widthPx: line.widthPx,
    contrast: line.contrast,
  };
}

function along(line: Line, t: number): ImagePoint {
  return { x: line.at.x + t * Math.cos(line.angle), y: line.at.y + t * Math.sin(line.angle) };
}

interface Line {
  at: ImagePoint;
  angle: number;
  widthPx: number;
  contrast: number;
}

/** Moves, turns and widens the line a little until it lies best on the bar from −half to +half about its start. */
function settle(picture: Picture, start: Line, half: number): Line | null {
  const widthPx = start.widthPx;
  let best: Line | null = null;
  const consider = (at: ImagePoint, angle: number, width: number) => {
    const contrast = standingOut(picture, at, angle, width, half);
    if (!best || contrast > best.contrast) best = { at, angle, widthPx: width, contrast };
  };
  consider(start.at, start.angle, widthPx);
  for (let step = 1; step >= 0.12; step /= 2) {
    const from: Line = best!;
    for (const turn of [-1, 0, 1])
      for (const aside of [-1, 0, 1])
        for (const wider of [-1, 0, 1]) {
          const turned = from.angle + (turn * step * 0.15 * widthPx) / half;
          const by = (aside * step * widthPx) / 2;
          consider(
            { x: from.at.x - by * Math.sin(turned), y: from.at.y + by * Math.cos(turned) },
            turned,
            Math.max(1.5, from.widthPx * (1 + 0.25 * wider * step)),
          );
        }
  }
  const found = best as Line | null;
  return found && found.contrast > FAINTEST ? found : null;
}

/** How much a strip of the given width and half length differs from the strips on both its sides. */
export function standingOut(
  picture: Picture,
  at: ImagePoint,
  angle: number,
  widthPx: number,
  half: number,
): number {
  let sum = 0;
  let n = 0;
  for (let t = -half; t <= half; t += Math.max(1, widthPx / 2, half / 12)) {
    sum += differenceAt(picture, at, angle, widthPx, t);
    n++;
  }
  return sum / n;
}

/**
 * Largest difference over channels between the bar and the nearer of its two sides at distance t along it. The
 * nearer one, so that the edge of a single surface (a step, a shadow) does not pass for a bar.
 */
function differenceAt(picture: Picture, at: ImagePoint, angle: number, widthPx: number, t: number): number {
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  let largest = 0;
  for (let channel = 0; channel < picture.channels; channel++) {
    const value = (across: number) =>
      sampleAt(picture, at.x + t * c - across * s, at.y + t * s + across * c, channel);
    const inner = (value(-widthPx / 4) + value(0) + value(widthPx / 4)) / 3;
    const left = (value(-widthPx * 0.85) + value(-widthPx * 1.2)) / 2;
    const right = (value(widthPx * 0.85) + value(widthPx * 1.2)) / 2;
    const [a, b] = [inner - left, inner - right];
    const difference = a * b > 0 ? Math.min(Math.abs(a), Math.abs(b)) : 0;
    largest = Math.max(largest, difference);
  }
  return largest;
}

/** Farthest distance along the line, one way, at which the bar still stands out; crossings interpolated. */
function lastInside(picture: Picture, line: Line, way: 1 | -1): number {
  const limit = Math.hypot(picture.width, picture.height);
  const within = (t: number) => {
    const x = line.at.x + t * Math.cos(line.angle);
    const y = line.at.y + t * Math.sin(line.angle);
    return x >= 0 && y >= 0 && x <= picture.width - 1 && y <= picture.height - 1;
  };
  // Stripes differ from the ground by different amounts, and a foot or a lead may cross: bridge short breaks.
  const bridge = Math.max(4, BRIDGED_WIDTHS * line.widthPx);
  const inside: number[] = [];
  let last = 0;
  let previous = line.contrast;
  for (let t = 0; t < limit; t += 0.5) {
    if (!within(way * t)) break;
    const difference = differenceAt(picture, line.at, line.angle, line.widthPx, way * t);
    const threshold = 0.5 * (inside.length > 6 ? median(inside) : line.contrast);
    if (difference >= threshold) {
      inside.push(difference);
      if (inside.length > 200) inside.shift();
      last = t;
    } else {
      if (previous >= threshold) last = t - 0.5 + (0.5 * (previous - threshold)) / (previous - difference);
      if (t - last > bridge) break;
    }
    previous = difference;
  }
  return last;
}
