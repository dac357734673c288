import { type Bar, followBar, standingOut } from "./bar.ts";
import type { Picture } from "./picture.ts";
import { poleLine } from "./pole-line.ts";
import type { ImagePoint } from "./types.ts";

export interface SnappedTap {
  /** End of the pole's middle line, below a pixel. */
  point: ImagePoint;
  /** The other end of the pole as far as it could be followed: a suggestion for the second tap. */
  otherEnd: ImagePoint;
  widthPx: number;
}

/**
 * The end of a pole within `radiusPx` of a tap: the tap snaps to it. Null where no bar ends there: leave the tap
 * where it is. Coordinates count from the picture's corner, as taps do (the first pixel's centre is 0.5, 0.5).
 * @param picture the frame or a part of it that reaches a few radii about the tap.
 */
export function snapToPole(picture: Picture, tap: ImagePoint, radiusPx: number): SnappedTap | null {
  const centre = { x: tap.x - 0.5, y: tap.y - 0.5 };
  let best: { bar: Bar; end: 0 | 1; score: number } | null = null;
  for (const { start, angle, widthPx } of likeliestStarts(picture, centre, radiusPx)) {
    const bar = followBar(picture, start, angle, widthPx);
    if (!bar) continue;
    const length = Math.hypot(bar.ends[1].x - bar.ends[0].x, bar.ends[1].y - bar.ends[0].y);
    if (length < Math.max(radiusPx, 3 * bar.widthPx)) continue;
    for (const end of [0, 1] as const) {
      // The finger means the middle line's end, which lies half a width before the rim.
      const middle = towards(bar.ends[end], bar.ends[end === 0 ? 1 : 0], bar.widthPx / 2);
      const miss = Math.hypot(middle.x - centre.x, middle.y - centre.y);
      if (miss > radiusPx) continue;
      const score = bar.contrast * Math.min(length, 6 * radiusPx) * (1 - miss / radiusPx);
      if (!best || score > best.score) best = { bar, end, score };
    }
  }
  if (!best) return null;
  const onPicture = (p: ImagePoint) => ({ x: p.x + 0.5, y: p.y + 0.5 });
  const own = onPicture(best.bar.ends[best.end]);
  const other = onPicture(best.bar.ends[best.end === 0 ? 1 : 0]);
  const line = poleLine(picture, { near: own, far: other }, best.bar.widthPx);
  const { widthPx } = best.bar;
  return line
    ? {
        point: towards(line.near, line.far, line.nearWidthPx / 2),
        otherEnd: towards(line.far, line.near, line.farWidthPx / 2),
        widthPx,
      }
    : {
        point: towards(own, other, widthPx / 2),
        otherEnd: towards(other, own, widthPx / 2),
        widthPx,
      };
}

/**
 * A row is filmed almost along its poles, so that a pole's end is drawn as a disc: its outline ends with the disc's rim,
 * half a width beyond its middle line.
 */
function towards(end: ImagePoint, other: ImagePoint, byPx: number): ImagePoint {
  const share = Math.min(0.3, byPx / Math.hypot(other.x - end.x, other.y - end.y));
  return { x: end.x + share * (other.x - end.x), y: end.y + share * (other.y - end.y) };
}

const STARTS_FOLLOWED = 30;

/** A finger may miss the bar itself: lines in all directions, at the tap, beside it and to both sides along it. */
function likeliestStarts(picture: Picture, centre: ImagePoint, radiusPx: number) {
  const starts: { start: ImagePoint; angle: number; widthPx: number; contrast: number }[] = [];
  for (const widthPx of [radiusPx / 6, radiusPx / 3, radiusPx / 1.5].filter((w) => w >= 1.5))
    for (let k = 0; k < 24; k++) {
      const angle = (k * Math.PI) / 24;
      for (const along of [-0.8, 0, 0.8])
        for (const aside of [-0.5, -0.25, 0, 0.25, 0.5]) {
          const start = {
            x: centre.x + radiusPx * (along * Math.cos(angle) - aside * Math.sin(angle)),
            y: centre.y + radiusPx * (along * Math.sin(angle) + aside * Math.cos(angle)),
          };
          if (!within(picture, start)) continue;
          const contrast = standingOut(picture, start, angle, widthPx, radiusPx / 2);
          if (contrast > 5) starts.push({ start, angle, widthPx, contrast });
        }
    }
  return starts.sort((a, b) => b.contrast - a.contrast).slice(0, STARTS_FOLLOWED);
}

function within(picture: Picture, p: ImagePoint): boolean {
  return p.x >= 0 && p.y >= 0 && p.x <= picture.width - 1 && p.y <= picture.height - 1;
}
