import { useCallback } from "react";
import type { Picture } from "../../ground/picture.ts";
import { poleLine } from "../../ground/pole-line.ts";
import { snapToPole } from "../../ground/snap.ts";
import type { ImagePoint } from "../../ground/types.ts";

export interface Snapped {
  /** Where the tap goes: the pole's end, or where it was when no pole ends there. */
  point: ImagePoint;
  /** The pole's other end as far as it could be followed; null when nothing was snapped to. */
  otherEnd: ImagePoint | null;
}

/** Part of the picture looked at, in radii about the tap: wide enough to follow a pole to its other end. */
const radiiAround = 14;

/**
 * Snapping of taps to pole ends on the picture on show. Points are in pixels of the upright picture, of which the
 * bitmap may be a smaller version; radius: how far a tap may be drawn, same pixels.
 */
export function useSnap(bitmap: ImageBitmap | null, pictureWidthPx: number) {
  return useCallback(
    (tap: ImagePoint, radius: number): Snapped => {
      if (!bitmap || bitmap.width === 0) return { point: tap, otherEnd: null };
      const shrunk = bitmap.width / pictureWidthPx;
      const at = { x: tap.x * shrunk, y: tap.y * shrunk };
      const reach = Math.ceil(radius * shrunk * radiiAround);
      const left = Math.max(0, Math.floor(at.x) - reach);
      const top = Math.max(0, Math.floor(at.y) - reach);
      const width = Math.min(bitmap.width, Math.ceil(at.x) + reach) - left;
      const height = Math.min(bitmap.height, Math.ceil(at.y) + reach) - top;
      if (width < 8 || height < 8) return { point: tap, otherEnd: null };
      const found = snapToPole(
        cut(bitmap, left, top, width, height),
        { x: at.x - left, y: at.y - top },
        radius * shrunk,
      );
      const inPicture = (p: ImagePoint) => ({ x: (p.x + left) / shrunk, y: (p.y + top) / shrunk });
      return found
        ? { point: inPicture(found.point), otherEnd: inPicture(found.otherEnd) }
        : { point: tap, otherEnd: null };
    },
    [bitmap, pictureWidthPx],
  );
}

/** Draws both ends of a pole onto its middle line; the ends as they are where no such line is seen. */
export function aligned(
  bitmap: ImageBitmap | null,
  pictureWidthPx: number,
  ends: { near: ImagePoint; far: ImagePoint },
  radius: number,
): { near: ImagePoint; far: ImagePoint } {
  if (!bitmap || bitmap.width === 0) return ends;
  const shrunk = bitmap.width / pictureWidthPx;
  const length = Math.hypot(ends.near.x - ends.far.x, ends.near.y - ends.far.y) * shrunk;
  const margin = Math.ceil(0.3 * length + 2 * radius * shrunk);
  const xs = [ends.near.x * shrunk, ends.far.x * shrunk];
  const ys = [ends.near.y * shrunk, ends.far.y * shrunk];
  const left = Math.max(0, Math.floor(Math.min(...xs)) - margin);
  const top = Math.max(0, Math.floor(Math.min(...ys)) - margin);
  const width = Math.min(bitmap.width, Math.ceil(Math.max(...xs)) + margin) - left;
  const height = Math.min(bitmap.height, Math.ceil(Math.max(...ys)) + margin) - top;
  if (width < 8 || height < 8) return ends;
  const toPart = (p: ImagePoint) => ({ x: p.x * shrunk - left, y: p.y * shrunk - top });
  const toPicture = (p: ImagePoint) => ({ x: (p.x + left) / shrunk, y: (p.y + top) / shrunk });
  const found = poleLine(
    cut(bitmap, left, top, width, height),
    { near: toPart(ends.near), far: toPart(ends.far) },
    radius * shrunk,
  );
  return found ? { near: toPicture(found.near), far: toPicture(found.far) } : ends;
}

/** A part of a bitmap, in its own pixels, made larger or smaller by `scale`. */
export function cut(
  bitmap: ImageBitmap,
  left: number,
  top: number,
  fromWidth: number,
  fromHeight: number,
  scale = 1,
): Picture {
  const width = Math.round(fromWidth * scale);
  const height = Math.round(fromHeight * scale);
  const canvas = new OffscreenCanvas(width, height);
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  if (!pen) throw new Error("This browser gave no canvas to read the picture from.");
  pen.imageSmoothingQuality = "high";
  pen.drawImage(bitmap, left, top, fromWidth, fromHeight, 0, 0, width, height);
  const rgba = pen.getImageData(0, 0, width, height).data;
  const data = new Uint8Array(width * height * 3);
  for (let from = 0, to = 0; from < rgba.length; from += 4, to += 3) {
    data[to] = rgba[from] as number;
    data[to + 1] = rgba[from + 1] as number;
    data[to + 2] = rgba[from + 2] as number;
  }
  return { data, width, height, channels: 3 };
}
