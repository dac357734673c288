import { type Bar, followBar, standingOut } from "./bar.ts";
import { fitGround } from "./fit.ts";
import { groundToImage } from "./map.ts";
import type { Frame } from "./marks.ts";
import { median } from "./patches.ts";
import type { Picture } from "./picture.ts";
import { poleLine } from "./pole-line.ts";
import type { ImagePoint, PoleTap } from "./types.ts";

/** A pole with both ends. */
export type WholePole = Required<{ [End in keyof PoleTap]: ImagePoint }>;

/** Only the shape of the row is asked for: any spacing will do. */
const SOME_GAP_M = 0.5;
/** A pole is looked for this far from where it should lie, as a share of the way to its neighbour. */
const ASIDE_SHARE = 0.3;
const STEPS_ASIDE = 6;
/** It must be seen over this share of its length and stand out this much against the tapped ones. */
const SHORTEST_SHARE = 0.4;
const FAINTEST_SHARE = 0.35;
/** Its ends are believed when they lie this near to where they should, as a share of its length. */
const END_SHARE = 0.06;
/** Of the places looked at, so many that stand out most are followed. */
const STARTS_FOLLOWED = 10;
const MOST_POLES = 14;

/**
 * The rest of a row of even spacing from two or more neighbouring poles of it: the camera that explains those says where
 * the next pole should lie; a bar there is taken, the camera fitted anew, and so on, both ways, until none is found.
 * @param picture the frame, or a part of it. Points count from its corner, as taps do.
 * @param tapped neighbours in the row, both ends, in row order.
 * @param frame size of the whole picture in its pixels.
 * @returns the whole row in the order of `tapped`; the tapped poles as they are; null where two poles make no camera.
 */
export function restOfRow(
  picture: Picture,
  tapped: readonly WholePole[],
  frame: Frame,
): { poles: WholePole[]; found: number } | null {
  if (tapped.length < 2 || !mapOf(tapped, frame)) return null;
  const usual = usualBar(picture, tapped);
  if (!usual) return { poles: [...tapped], found: 0 };
  // Bars are followed to the rims of their ends; taps lie in the middle of them.
  let row = tapped.map((pole) => longer(pole, usual.rimShare));
  const first = row[0]!;
  for (const way of ["on", "back"] as const)
    while (row.length < MOST_POLES) {
      const next = nextPole(picture, way === "on" ? row : row.toReversed(), frame, usual);
      if (!next) break;
      row = way === "on" ? [...row, next] : [next, ...row];
    }
  const before = row.indexOf(first);
  return {
    poles: row.map((pole, k) => tapped[k - before] ?? longer(pole, -usual.rimShare)),
    found: row.length - tapped.length,
  };
}

/** A pole with both ends moved outwards by a share of its length. */
function longer({ near, far }: WholePole, share: number): WholePole {
  const [dx, dy] = [share * (far.x - near.x), share * (far.y - near.y)];
  return { near: { x: near.x - dx, y: near.y - dy }, far: { x: far.x + dx, y: far.y + dy } };
}

function mapOf(poles: readonly WholePole[], frame: Frame) {
  return fitGround({ timeS: 0, poles: [...poles], gapsM: poles.slice(1).map(() => SOME_GAP_M) }, frame).map;
}

/** How the tapped poles look: their width as a share of the way to the neighbour, and contrast; null where they do not stand out. */
function usualBar(picture: Picture, tapped: readonly WholePole[]) {
  const bars = tapped.flatMap((pole, k) => {
    const neighbour = tapped[k + 1] ?? tapped[k - 1]!;
    const away = distance(middle(pole.near, pole.far), middle(neighbour.near, neighbour.far));
    const start = middle(centred(pole.near), centred(pole.far));
    const angle = Math.atan2(pole.far.y - pole.near.y, pole.far.x - pole.near.x);
    const guesses = [0.04, 0.07, 0.12].map((share) =>
      followBar(picture, start, angle, Math.max(2, share * lengthOf(pole))),
    );
    const best = guesses.reduce((a, b) => (b && (!a || b.contrast > a.contrast) ? b : a));
    if (!best) return [];
    const line = poleLine(picture, pole, best.widthPx);
    const width = line ? (line.nearWidthPx + line.farWidthPx) / 2 : best.widthPx;
    const rimShare = Math.min(0.3, (0.5 * width) / lengthOf(pole));
    return [{ widthShare: best.widthPx / away, contrast: best.contrast, rimShare }];
  });
  if (bars.length === 0) return null;
  return {
    widthShare: median(bars.map((b) => b.widthShare)),
    contrast: median(bars.map((b) => b.contrast)),
    rimShare: median(bars.map((b) => b.rimShare)),
  };
}

function nextPole(
  picture: Picture,
  row: readonly WholePole[],
  frame: Frame,
  usual: { widthShare: number; contrast: number },
): WholePole | null {
  const map = mapOf(row, frame);
  if (!map) return null;
  const xM = map.poleXM.at(-1)! + SOME_GAP_M;
  const drawn = {
    near: groundToImage(map, { xM, yM: 0 }),
    far: groundToImage(map, { xM, yM: map.poleLengthM }),
  };
  const last = row.at(-1)!;
  const away = distance(middle(drawn.near, drawn.far), middle(last.near, last.far));
  const length = lengthOf(drawn);
  if (!(length > 4 && away > 4 && within(middle(drawn.near, drawn.far), picture))) return null;
  const along = {
    x: (drawn.near.x - last.near.x) / distance(drawn.near, last.near),
    y: (drawn.near.y - last.near.y) / distance(drawn.near, last.near),
  };
  const angle = Math.atan2(drawn.far.y - drawn.near.y, drawn.far.x - drawn.near.x);
  const widthPx = Math.max(2, usual.widthShare * away);
  const starts: { at: ImagePoint; contrast: number }[] = [];
  for (let step = -STEPS_ASIDE; step <= STEPS_ASIDE; step++)
    for (const share of [0.5, 0.3, 0.7]) {
      const by = (step / STEPS_ASIDE) * ASIDE_SHARE * away;
      const at = centred({
        x: drawn.near.x + share * (drawn.far.x - drawn.near.x) + by * along.x,
        y: drawn.near.y + share * (drawn.far.y - drawn.near.y) + by * along.y,
      });
      if (within(at, picture))
        starts.push({ at, contrast: standingOut(picture, at, angle, widthPx, 0.15 * length) });
    }
  starts.sort((a, b) => b.contrast - a.contrast);
  let best: { pole: WholePole; score: number } | null = null;
  for (const { at } of starts.slice(0, STARTS_FOLLOWED)) {
    const bar = followBar(picture, at, angle, widthPx);
    if (!bar || bar.contrast < FAINTEST_SHARE * usual.contrast) continue;
    const seen = asPole(bar, drawn);
    if (lengthOf(seen) < SHORTEST_SHARE * length) continue;
    const pole = endsOn(seen, drawn, length);
    const miss = Math.max(distance(pole.near, drawn.near), distance(pole.far, drawn.far));
    const reach = ASIDE_SHARE * away;
    if (miss > reach) continue;
    const score =
      Math.min(bar.contrast, usual.contrast) *
      Math.min(1, lengthOf(seen) / length) *
      (1 - miss / (2 * reach));
    if (!best || score > best.score) best = { pole, score };
  }
  // The tapped pole itself, seen from too near, is not the next one.
  if (!best || distance(best.pole.near, last.near) < 0.4 * away) return null;
  return best.pole;
}

/**
 * The pole's line is what the picture shows best; along it, ends hide behind caps, stands and grass, and the other
 * poles know better how long it is. An end that agrees with them stays.
 */
function endsOn(seen: WholePole, drawn: WholePole, length: number): WholePole {
  const [dx, dy] = [seen.far.x - seen.near.x, seen.far.y - seen.near.y];
  const onLine = (p: ImagePoint): ImagePoint => {
    const t = ((p.x - seen.near.x) * dx + (p.y - seen.near.y) * dy) / (dx * dx + dy * dy);
    return { x: seen.near.x + t * dx, y: seen.near.y + t * dy };
  };
  const end = (own: ImagePoint, expected: ImagePoint) =>
    distance(own, onLine(expected)) < END_SHARE * length ? own : onLine(expected);
  return { near: end(seen.near, drawn.near), far: end(seen.far, drawn.far) };
}

function asPole(bar: Bar, drawn: WholePole): WholePole {
  const [a, b] = bar.ends.map((p) => ({ x: p.x + 0.5, y: p.y + 0.5 })) as [ImagePoint, ImagePoint];
  return distance(a, drawn.near) + distance(b, drawn.far) <= distance(b, drawn.near) + distance(a, drawn.far)
    ? { near: a, far: b }
    : { near: b, far: a };
}

const centred = (p: ImagePoint): ImagePoint => ({ x: p.x - 0.5, y: p.y - 0.5 });
const distance = (p: ImagePoint, q: ImagePoint) => Math.hypot(p.x - q.x, p.y - q.y);
const middle = (p: ImagePoint, q: ImagePoint) => ({ x: (p.x + q.x) / 2, y: (p.y + q.y) / 2 });
const lengthOf = (pole: WholePole) => distance(pole.near, pole.far);

function within(p: ImagePoint, picture: Picture): boolean {
  return p.x >= 0 && p.y >= 0 && p.x <= picture.width - 1 && p.y <= picture.height - 1;
}
