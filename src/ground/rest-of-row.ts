import { type Bar, followBar, standingOut } from "./bar.ts";
import { fitGround } from "./fit.ts";
import { groundToImage } from "./map.ts";
import type { Frame } from "./marks.ts";
import { median } from "./patches.ts";
import type { Picture } from "./picture.ts";
import { poleLine } from "./pole-line.ts";
import type { GroundMap, ImagePoint, PoleTap } from "./types.ts";

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
/** Of the places looked at, so many that stand out most are followed; and those next to where the pole should lie. */
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
  let row = tapped.map((pole): Seen => ({ pole: longer(pole, usual.rimShare), tapped: pole }));
  for (const way of ["on", "back"] as const)
    while (row.length < MOST_POLES) {
      const next = nextPole(picture, way === "on" ? row : row.toReversed(), frame, usual);
      if (!next) break;
      row = way === "on" ? [...row, { pole: next }] : [{ pole: next }, ...row];
    }
  const whole = explain(row, frame);
  return {
    poles: row.map(
      (seen, k) => seen.tapped ?? longer(whole ? ended(seen.pole, whole, k) : seen.pole, -usual.rimShare),
    ),
    found: row.length - tapped.length,
  };
}

/** A pole of the row as the picture shows it; where it was tapped, that too. */
interface Seen {
  pole: WholePole;
  tapped?: WholePole;
}

/**
 * The camera that explains a row, and the ends that go with it. Two poles tell little of where the fifth lies, so every
 * end seen counts; but ends hide behind stands, caps and grass, and such a one is left out, the worst first.
 */
function explain(row: readonly Seen[], frame: Frame): { map: GroundMap; ends: PoleTap[] } | null {
  const ends: PoleTap[] = row.map(({ pole }) => ({ ...pole }));
  for (;;) {
    const map = mapOf(ends, frame);
    if (!map) return null;
    const misses = row.flatMap(({ pole, tapped }, k) =>
      tapped
        ? []
        : (["near", "far"] as const).flatMap((end) => {
            const seen = ends[k]![end];
            return seen
              ? [{ k, end, share: distance(seen, drawnAt(map, map.poleXM[k]!)[end]) / lengthOf(pole) }]
              : [];
          }),
    );
    const worst = misses.reduce((a, b) => (b.share > a.share ? b : a), { k: 0, end: "near", share: 0 });
    if (worst.share < END_SHARE) return { map, ends };
    ends[worst.k] = { ...ends[worst.k], [worst.end]: undefined };
  }
}

/** Pole `k` of a row: its own ends where they go with the row, else where the row puts them, on its own line. */
function ended(
  pole: WholePole,
  { map, ends }: { map: GroundMap; ends: readonly PoleTap[] },
  k: number,
): WholePole {
  const expected = onLine(pole, drawnAt(map, map.poleXM[k]!));
  return { near: ends[k]?.near ?? expected.near, far: ends[k]?.far ?? expected.far };
}

/** The points of a pole's line that lie nearest to the ends of another. */
function onLine(pole: WholePole, { near, far }: WholePole): WholePole {
  const [dx, dy] = [pole.far.x - pole.near.x, pole.far.y - pole.near.y];
  const nearest = (p: ImagePoint): ImagePoint => {
    const t = ((p.x - pole.near.x) * dx + (p.y - pole.near.y) * dy) / (dx * dx + dy * dy);
    return { x: pole.near.x + t * dx, y: pole.near.y + t * dy };
  };
  return { near: nearest(near), far: nearest(far) };
}

function drawnAt(map: GroundMap, xM: number): WholePole {
  return { near: groundToImage(map, { xM, yM: 0 }), far: groundToImage(map, { xM, yM: map.poleLengthM }) };
}

/** A pole with both ends moved outwards by a share of its length. */
function longer({ near, far }: WholePole, share: number): WholePole {
  const [dx, dy] = [share * (far.x - near.x), share * (far.y - near.y)];
  return { near: { x: near.x - dx, y: near.y - dy }, far: { x: far.x + dx, y: far.y + dy } };
}

function mapOf(poles: readonly PoleTap[], frame: Frame) {
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
  row: readonly Seen[],
  frame: Frame,
  usual: { widthShare: number; contrast: number },
): WholePole | null {
  const known = explain(row, frame);
  if (!known) return null;
  const drawn = drawnAt(known.map, known.map.poleXM.at(-1)! + SOME_GAP_M);
  const last = ended(row.at(-1)!.pole, known, row.length - 1);
  const away = distance(middle(drawn.near, drawn.far), middle(last.near, last.far));
  const length = lengthOf(drawn);
  if (!(length > 4 && away > 4 && within(middle(drawn.near, drawn.far), picture))) return null;
  const along = {
    x: (drawn.near.x - last.near.x) / distance(drawn.near, last.near),
    y: (drawn.near.y - last.near.y) / distance(drawn.near, last.near),
  };
  const angle = Math.atan2(drawn.far.y - drawn.near.y, drawn.far.x - drawn.near.x);
  const widthPx = Math.max(2, usual.widthShare * away);
  const starts: { at: ImagePoint; contrast: number; aside: number }[] = [];
  for (let step = -STEPS_ASIDE; step <= STEPS_ASIDE; step++)
    for (const share of [0.5, 0.3, 0.7]) {
      const by = (step / STEPS_ASIDE) * ASIDE_SHARE * away;
      const at = centred({
        x: drawn.near.x + share * (drawn.far.x - drawn.near.x) + by * along.x,
        y: drawn.near.y + share * (drawn.far.y - drawn.near.y) + by * along.y,
      });
      if (within(at, picture))
        starts.push({
          at,
          contrast: standingOut(picture, at, angle, widthPx, 0.15 * length),
          aside: Math.abs(step),
        });
    }
  starts.sort((a, b) => b.contrast - a.contrast);
  let best: { pole: WholePole; score: number } | null = null;
  for (const { at } of starts.filter((s, rank) => rank < STARTS_FOLLOWED || s.aside <= 1)) {
    const bar = followBar(picture, at, angle, widthPx);
    if (!bar || bar.contrast < FAINTEST_SHARE * usual.contrast) continue;
    const pole = asPole(bar, drawn);
    if (lengthOf(pole) < SHORTEST_SHARE * length) continue;
    // An end may hide; where the pole's line runs is what the picture shows best.
    const expected = onLine(pole, drawn);
    const miss = Math.max(distance(expected.near, drawn.near), distance(expected.far, drawn.far));
    const reach = ASIDE_SHARE * away;
    if (miss > reach) continue;
    const score =
      Math.min(bar.contrast, usual.contrast) *
      Math.min(1, lengthOf(pole) / length) *
      (1 - miss / (2 * reach));
    if (!best || score > best.score) best = { pole, score };
  }
  // The tapped pole itself, seen from too near, is not the next one.
  if (!best || distance(onLine(best.pole, drawn).near, last.near) < 0.4 * away) return null;
  return best.pole;
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
