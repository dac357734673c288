import { poleLine } from "../../ground/pole-line.ts";
import { restOfRow, type WholePole } from "../../ground/rest-of-row.ts";
import { suggestPoles } from "../../ground/suggest.ts";
import type { ImagePoint, PoleTap } from "../../ground/types.ts";
import { cut } from "./useSnap.ts";

/** Width at which poles are looked for, pixels. */
const searchWidthPx = 1280;
/** A found pole lies this near to its line, as a share of that width. */
const lineShare = 0.008;
/** Above and below the first pole, as a share of its height in the picture: keeps fences and walls out of the search. */
const aboveAndBelow = 1;
const leastMarginPx = 24;
/** Under this the suggestion is not shown: rather none than a wrong row. A choice of ours. */
const surely = 0.8;

/**
 * The rest of the row from two or more neighbouring poles of it, in row order: those before the first and after the
 * last that is tapped are found by where they must lie. Points are in pixels of the upright picture.
 */
export function findRest(
  bitmap: ImageBitmap,
  picture: { widthPx: number; heightPx: number },
  tapped: readonly WholePole[],
): WholePole[] | null {
  const scale = Math.min(1, searchWidthPx / bitmap.width);
  const toSearch = (scale * bitmap.width) / picture.widthPx;
  const drawn = (by: number) => (pole: WholePole) => ({
    near: { x: pole.near.x * by, y: pole.near.y * by },
    far: { x: pole.far.x * by, y: pole.far.y * by },
  });
  const whole = cut(bitmap, 0, 0, bitmap.width, bitmap.height, scale);
  const row = restOfRow(whole, tapped.map(drawn(toSearch)), {
    widthPx: picture.widthPx * toSearch,
    heightPx: picture.heightPx * toSearch,
  });
  if (!row || row.found === 0) return null;
  const before = row.poles.findIndex((p) => Math.abs(p.near.x - tapped[0]!.near.x * toSearch) < 1e-6);
  const onLine = (pole: WholePole) => poleLine(whole, pole, lineShare * searchWidthPx) ?? pole;
  return row.poles.map((pole, k) => tapped[k - before] ?? drawn(1 / toSearch)(onLine(pole)));
}

/**
 * The whole row from its first pole: the poles beside it in the same strip of the picture, in order from the first
 * one. Null where no row can be told from the ground. Points are in pixels of the upright picture.
 */
export function findOthers(
  bitmap: ImageBitmap,
  pictureWidthPx: number,
  first: Required<PoleTap>,
): PoleTap[] | null {
  const { near, far } = first;
  if (!near || !far) return null;
  const toBitmap = bitmap.width / pictureWidthPx;
  const scale = Math.min(1, searchWidthPx / bitmap.width);
  const height = Math.abs(near.y - far.y) * toBitmap;
  const margin = Math.max(leastMarginPx / scale, aboveAndBelow * height);
  const top = Math.max(0, Math.floor(Math.min(near.y, far.y) * toBitmap - margin));
  const bottom = Math.min(bitmap.height, Math.ceil(Math.max(near.y, far.y) * toBitmap + margin));
  if (bottom - top < 16) return null;
  const strip = cut(bitmap, 0, top, bitmap.width, bottom - top, scale);
  const { poles, confidence } = suggestPoles(strip);
  if (confidence < surely) return null;

  const inPicture = (point: ImagePoint | undefined) =>
    point && { x: point.x / scale / toBitmap, y: (point.y / scale + top) / toBitmap };
  const found = poles.map((pole) => ({ near: inPicture(pole.near), far: inPicture(pole.far) }));
  const gap =
    Math.abs((found.at(-1)?.near?.x ?? 0) - (found[0]?.near?.x ?? 0)) / Math.max(1, found.length - 1);
  const at = found.findIndex(
    (pole) => pole.near && Math.hypot(pole.near.x - near.x, pole.near.y - near.y) < gap / 3,
  );
  // A row that leaves the tapped pole out is another row.
  if (at < 0) return null;
  const row = at > (found.length - 1) / 2 ? found.toReversed() : found;
  return row.map((pole) => (pole === found[at] ? { near, far } : pole));
}
