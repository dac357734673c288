import type { matrix_t } from "jsfeat";
import type { Matrix3 } from "../stats/types.ts";
import { agreedHomography } from "./consensus.ts";
import {
  type Box,
  type FlowPicture,
  flowPicture,
  follow,
  greyMatrix,
  inside,
  load,
  loadWarped,
  trackablePoints,
} from "./flow.ts";
import { applyHomography, fitHomography, IDENTITY, invert3, multiply3, scaledToLast } from "./homography.ts";
import { type StillPatches, shiftAgainst, stillPatches } from "./patches.ts";
import type { CameraReport, FrameRegistration, GreyPicture, ImagePoint } from "./types.ts";

export interface RegistrarOptions {
  /** Size of the grey pictures, pixels; 480 to 640 wide is enough. */
  width: number;
  height: number;
  /** Width of the upright full-size picture over `width`. */
  scale: number;
  /**
   * The ground fills the picture from this share of its height downwards. Points there count for more, for they
   * move as the poles do when the hand that holds the camera moves sideways. 0.4 unless given.
   */
  groundFrom?: number | undefined;
}

/** What one frame showed. */
export interface FrameShift {
  ok: boolean;
  /** The picture stands exactly on a key frame. */
  still: boolean;
  /** Farthest that a corner of the picture lies from where the first frame had it, full-size pixels. */
  shiftPx: number;
  /** On upright full-size pixels; the first frame of the stretch where tracking had to start anew. */
  frameToFirst: Matrix3;
}

export interface Registrar {
  /**
   * Takes the next frame, in order of time.
   * @param avoid boxes of grey pixels that hold what moves by itself (dog, handler).
   */
  add(grey: GreyPicture, timeS: number, avoid?: readonly Box[]): FrameShift;
  /** All frames against the one nearest to `referenceTimeS`. `registrations` is empty for a still camera. */
  finish(referenceTimeS: number): { registrations: FrameRegistration[]; report: CameraReport };
}

const POINTS = 130;
const STILL_PATCHES = 64;
/** A frame stands on its key frame when its patches are shifted by less than this (grey pixels) ... */
const STILL_PX = 0.12;
/** ... and this share of them agrees: the dog may cover or have been on the others. Fewer do when it stood before. */
const STILL_SHARE = 0.35;
const STILL_SHARE_AFTER_STILL = 0.2;
/** Pairs agree on the camera's motion within this distance, grey pixels; twice that in blurred frames. */
const AGREE_PX = 1;
const FAR_JUMP_PX = 12;
const FEWEST_PAIRS = 14;
const SMALLEST_SHARE = 0.35;
/** A key frame serves while this share of the picture lies within it. */
const KEY_OVERLAP = 0.6;
/** A frame of this many that do not move any more becomes a key frame: the camera was bumped and stands again. */
const REST_FRAMES = 12;
const REST_PX = 0.15;
/** After so many lost frames tracking starts anew and is joined to the rest when an old view comes back. */
const ANEW_AFTER = 12;
const MOST_KEYS = 80;
/** Downscaled width at which a lost view is searched for. */
const SEARCH_WIDTH = 80;

interface Key {
  stretch: number;
  /** This key's picture to the first one of its stretch, grey pixels. */
  toFirst: Matrix3;
  grey: matrix_t;
  thumb: Float32Array;
  points: ImagePoint[];
  still: StillPatches;
}

interface Seen {
  timeS: number;
  ok: boolean;
  still: boolean;
  stretch: number;
  toFirst: Matrix3;
}

/**
 * Follows the background from frame to frame against key frames, so that nothing drifts while the camera looks
 * at the same scene: each frame is compared with a key frame drawn as it should look now, not with its neighbour.
 */
export function createRegistrar(options: RegistrarOptions): Registrar {
  const { width, height, scale } = options;
  const groundFrom = (options.groundFrom ?? 0.4) * height;
  const seen: Seen[] = [];
  const keys: Key[] = [];
  const joins = new Map<number, { stretch: number; matrix: Matrix3 }>();
  const now: FlowPicture = flowPicture(width, height);
  const expected: FlowPicture = flowPicture(width, height);
  const fresh: FlowPicture = flowPicture(width, height);
  const corners = [
    { x: 0, y: 0 },
    { x: width, y: 0 },
    { x: width, y: height },
    { x: 0, y: height },
  ];
  let key: Key | null = null;
  let lostInARow = 0;
  let previous: { grey: GreyPicture; stretch: number; toFirst: Matrix3 } | null = null;

  // Grey pixel i covers full-size pixels i·scale to (i + 1)·scale.
  const greyToFull: Matrix3 = [scale, 0, scale / 2, 0, scale, scale / 2, 0, 0, 1];
  const fullToGrey = invert3(greyToFull);
  const full = (grey: Matrix3) => scaledToLast(multiply3(greyToFull, multiply3(grey, fullToGrey)));

  const farthest = (m: Matrix3) =>
    Math.max(
      ...corners.map((c) => {
        const p = applyHomography(m, c);
        return Math.hypot(p.x - c.x, p.y - c.y);
      }),
    );

  /** Share of the frame that the key shows; 0 where they differ too much in size. */
  const overlap = (frameToKey: Matrix3) => {
    let within = 0;
    for (let i = 0; i < 6; i++)
      for (let j = 0; j < 4; j++) {
        const p = applyHomography(frameToKey, { x: ((i + 0.5) * width) / 6, y: ((j + 0.5) * height) / 4 });
        if (p.x >= 0 && p.y >= 0 && p.x < width && p.y < height) within++;
      }
    const size = Math.hypot(frameToKey[0], frameToKey[3]);
    return size > 0.7 && size < 1.4 ? within / 24 : 0;
  };

  const makeKey = (grey: GreyPicture, stretch: number, toFirst: Matrix3, avoid: readonly Box[]): Key => {
    load(fresh, grey.data);
    const points = trackablePoints(fresh, POINTS, avoid);
    return {
      stretch,
      toFirst,
      grey: greyMatrix(grey.data, width, height),
      thumb: shrink(grey),
      points,
      still: stillPatches(grey, points.slice(0, STILL_PATCHES)),
    };
  };

  const keep = (made: Key) => {
    if (keys.length >= MOST_KEYS) keys.splice(1, 1);
    keys.push(made);
    key = made;
  };

  const addKey = (grey: GreyPicture, stretch: number, toFirst: Matrix3, avoid: readonly Box[]) =>
    keep(makeKey(grey, stretch, toFirst, avoid));

  /** frame → key, starting from a guess; null where the background was not found again. `now` holds the frame. */
  const align = (against: Key, guess: Matrix3, avoid: readonly Box[]): Matrix3 | null => {
    const keyToFrame = invert3(guess);
    const kept: ImagePoint[] = [];
    const drawn: ImagePoint[] = [];
    for (const p of against.points) {
      const q = applyHomography(keyToFrame, p);
      if (q.x < 8 || q.y < 8 || q.x > width - 8 || q.y > height - 8) continue;
      if (avoid.some((box) => inside(box, q))) continue;
      kept.push(p);
      drawn.push(q);
    }
    if (kept.length < FEWEST_PAIRS) return null;
    loadWarped(expected, against.grey, guess);
    const followed = follow(expected, now, drawn);
    const [from, to]: [ImagePoint[], ImagePoint[]] = [[], []];
    followed.forEach((q, i) => {
      if (!q) return;
      from.push(q);
      to.push(kept[i]!);
    });
    if (from.length < FEWEST_PAIRS) return null;
    return (
      motionOf(from, to, groundFrom, width, AGREE_PX) ?? motionOf(from, to, groundFrom, width, 2 * AGREE_PX)
    );
  };

  const trackFrame = (avoid: readonly Box[]): { key: Key; frameToKey: Matrix3 } | null => {
    const last = seen.at(-1);
    if (!key || !last) return null;
    const lastToKey = multiply3(invert3(key.toFirst), last.toFirst);
    // After a wide jump the key frame was drawn too far off to compare well: a second look from nearer.
    const attempt = (against: Key, start: Matrix3) => {
      const first = align(against, start, avoid);
      if (!first) return null;
      const moved = farthest(multiply3(invert3(start), first));
      return moved > FAR_JUMP_PX ? (align(against, first, avoid) ?? first) : first;
    };
    let found = attempt(key, lastToKey);
    let foundKey = key;
    if (found && overlap(found) < KEY_OVERLAP) {
      const toFirst = multiply3(key.toFirst, found);
      // The oldest key that still shows the view keeps the chain short.
      const other = keys.find(
        (k) =>
          k !== key && k.stretch === key?.stretch && overlap(multiply3(invert3(k.toFirst), toFirst)) > 0.75,
      );
      const again = other && align(other, multiply3(invert3(other.toFirst), toFirst), avoid);
      if (other && again) {
        foundKey = other;
        found = again;
      }
    }
    if (!found && previous) {
      // A blurred frame looks like its neighbour and like no key frame: let the neighbour be one.
      const neighbour = makeKey(previous.grey, previous.stretch, previous.toFirst, avoid);
      found = attempt(neighbour, IDENTITY);
      if (!found) {
        const [shift] = likeliest([neighbour], thumbOfNow(now), null);
        found = shift ? attempt(neighbour, [1, 0, -shift.dx, 0, 1, -shift.dy, 0, 0, 1]) : null;
      }
      if (found) {
        foundKey = neighbour;
        keep(neighbour);
      }
    }
    if (!found) {
      for (const candidate of likeliest(keys, thumbOfNow(now), key)) {
        const shifted: Matrix3 = [1, 0, -candidate.dx, 0, 1, -candidate.dy, 0, 0, 1];
        found = attempt(candidate.key, shifted);
        if (found) {
          foundKey = candidate.key;
          break;
        }
      }
    }
    return found && { key: foundKey, frameToKey: found };
  };

  /** Twelve frames without motion: the mean of their maps makes a key frame of the last. */
  const rested = (): Matrix3 | null => {
    const recent = seen.slice(-REST_FRAMES);
    const first = recent[0];
    if (recent.length < REST_FRAMES || !first) return null;
    const calm = recent.every(
      (s) =>
        s.ok &&
        !s.still &&
        s.stretch === first.stretch &&
        farthest(multiply3(invert3(first.toFirst), s.toFirst)) < 4 * REST_PX,
    );
    if (!calm) return null;
    return scaledToLast(
      first.toFirst.map(
        (_, k) => recent.reduce((sum, s) => sum + scaledToLast(s.toFirst)[k]!, 0) / recent.length,
      ) as Matrix3,
    );
  };

  const record = (entry: Seen): FrameShift => {
    seen.push(entry);
    lostInARow = entry.ok ? 0 : lostInARow + 1;
    return {
      ok: entry.ok,
      still: entry.still,
      shiftPx: farthest(entry.toFirst) * scale,
      frameToFirst: full(entry.toFirst),
    };
  };

  return {
    add(grey, timeS, avoid = []) {
      if (grey.width !== width || grey.height !== height)
        throw new TypeError(
          `The frame is ${grey.width} × ${grey.height} pixels, but the registrar was made for ${width} × ${height}.`,
        );
      const last = seen.at(-1);
      if (last && !(timeS > last.timeS))
        throw new TypeError(`Frame times must grow: ${timeS} s came after ${last.timeS} s.`);
      if (!key || !last) {
        addKey(grey, 0, IDENTITY, avoid);
        return record({ timeS, ok: true, still: true, stretch: 0, toFirst: IDENTITY });
      }
      if (key.still.patches.length >= 8) {
        const { shift, agreeing } = shiftAgainst(key.still, grey.data);
        const enough = last.still ? STILL_SHARE_AFTER_STILL : STILL_SHARE;
        if (agreeing >= enough && Math.hypot(shift.x, shift.y) < STILL_PX)
          return record({ timeS, ok: true, still: true, stretch: key.stretch, toFirst: key.toFirst });
      }

      load(now, grey.data);
      const found = trackFrame(avoid);
      if (!found) {
        if (lostInARow >= ANEW_AFTER) {
          const stretch = Math.max(...keys.map((k) => k.stretch)) + 1;
          addKey(grey, stretch, IDENTITY, avoid);
          return record({ timeS, ok: true, still: true, stretch, toFirst: IDENTITY });
        }
        return record({ timeS, ok: false, still: false, stretch: last.stretch, toFirst: last.toFirst });
      }
      const toFirst = scaledToLast(multiply3(found.key.toFirst, found.frameToKey));
      const shown = record({ timeS, ok: true, still: false, stretch: found.key.stretch, toFirst });
      previous = { grey: { width, height, data: grey.data.slice() }, stretch: found.key.stretch, toFirst };
      key = found.key;
      const restMap = rested();
      if (restMap || overlap(found.frameToKey) < KEY_OVERLAP)
        addKey(grey, found.key.stretch, restMap ?? toFirst, avoid);
      else if (found.key.stretch > 0 && !joins.has(found.key.stretch) && seen.length % 10 === 0) join();
      return shown;
    },

    finish(referenceTimeS) {
      const reference = nearestOk(seen, referenceTimeS);
      const report: CameraReport = { kind: "still", largestShiftPx: 0, lost: [] };
      if (!reference) return { registrations: [], report };
      const base = resolve(reference);
      const firstToReference = invert3(base.matrix);
      const registrations = seen.map((s): FrameRegistration => {
        const placed = resolve(s);
        return {
          timeS: s.timeS,
          frameToReference: full(multiply3(firstToReference, placed.matrix)),
          ok: s.ok && placed.stretch === base.stretch,
        };
      });
      let good: Matrix3 = IDENTITY;
      for (const r of registrations) {
        if (r.ok) good = r.frameToReference;
        else r.frameToReference = good;
      }
      report.largestShiftPx = Math.max(
        ...registrations.map((r) =>
          r.ok ? farthest(multiply3(fullToGrey, multiply3(r.frameToReference, greyToFull))) * scale : 0,
        ),
      );
      report.lost = stretchesLost(registrations);
      if (seen.every((s) => s.ok && s.still) && keys.length === 1) return { registrations: [], report };
      report.kind = "moving";
      return { registrations, report };
    },
  };

  /** Looks whether the present view of a stretch begun anew is one of an older stretch's. */
  function join(): void {
    const last = seen.at(-1)!;
    const older = keys.filter((k) => k.stretch < last.stretch);
    for (const candidate of likeliest(older, thumbOfNow(now), null)) {
      const frameToKey = align(candidate.key, [1, 0, -candidate.dx, 0, 1, -candidate.dy, 0, 0, 1], []);
      if (!frameToKey) continue;
      const toOlder = multiply3(candidate.key.toFirst, frameToKey);
      joins.set(last.stretch, {
        stretch: candidate.key.stretch,
        matrix: multiply3(toOlder, invert3(last.toFirst)),
      });
      return;
    }
  }

  function resolve(s: Seen): { stretch: number; matrix: Matrix3 } {
    let { stretch, toFirst: matrix } = s;
    for (let to = joins.get(stretch); to; to = joins.get(stretch)) {
      matrix = multiply3(to.matrix, matrix);
      stretch = to.stretch;
    }
    return { stretch, matrix };
  }

  function thumbOfNow(picture: FlowPicture): Float32Array {
    const data = picture.pyramid.data[0]!.data;
    return shrink({ data: data as Uint8Array, width, height });
  }

  function likeliest(among: readonly Key[], thumb: Float32Array, first: Key | null) {
    const factor = width / SEARCH_WIDTH;
    const columns = SEARCH_WIDTH;
    const rows = thumb.length / columns;
    // Newest keys and the very first: a view is lost near where it was last seen, or comes back to the start.
    const tried = [
      ...new Set([...(first ? [first] : []), ...among.slice(-4).reverse(), ...among.slice(0, 2)]),
    ];
    return tried
      .map((k) => ({ key: k, ...bestShift(k.thumb, thumb, columns, rows) }))
      .filter((c) => c.correlation > 0.5)
      .sort((a, b) => b.correlation - a.correlation)
      .slice(0, 3)
      .map((c) => ({ key: c.key, dx: c.dx * factor, dy: c.dy * factor }));
  }
}

/**
 * The camera's motion from followed pairs. The plane on which most agree may be a far hedge, which a sideways step
 * of the camera leaves behind: where the ground shows enough of itself, it decides, and the rest only steadies it.
 */
function motionOf(
  frame: readonly ImagePoint[],
  keyPoints: readonly ImagePoint[],
  groundFrom: number,
  width: number,
  withinPx: number,
): Matrix3 | null {
  const all = agreedHomography(frame, keyPoints, withinPx);
  const ground = frame.map((p) => p.y >= groundFrom);
  const low = frame.flatMap((p, i) => (ground[i] ? [[p, keyPoints[i]!] as const] : []));
  const own = agreedHomography(
    low.map(([p]) => p),
    low.map(([, q]) => q),
    withinPx,
  );
  const spread = (points: readonly ImagePoint[]) =>
    Math.max(...points.map((p) => p.x)) - Math.min(...points.map((p) => p.x));
  const agreed = own ? low.filter((_, i) => own.agrees[i]).map(([p]) => p) : [];
  const groundDecides =
    own && agreed.length >= Math.max(FEWEST_PAIRS, 0.5 * low.length) && spread(agreed) > 0.5 * width;
  const chosen = groundDecides ? own : all;
  if (!chosen || chosen.rmsPx > 0.8 * withinPx) return null;
  const near = (i: number) => {
    const p = applyHomography(chosen.homography, frame[i]!);
    return Math.hypot(p.x - keyPoints[i]!.x, p.y - keyPoints[i]!.y) < withinPx;
  };
  const pairs = frame.map((_, i) => i).filter(near);
  if (pairs.length < FEWEST_PAIRS || (!groundDecides && pairs.length < SMALLEST_SHARE * frame.length))
    return null;
  const motion = fitHomography(
    pairs.map((i) => frame[i]!),
    pairs.map((i) => keyPoints[i]!),
    pairs.map((i) => (ground[i] || !groundDecides ? 1 : 0.1)),
  );
  const size = motion && motion[0] * motion[4] - motion[1] * motion[3];
  return size && size > 0.3 && size < 3 ? motion : null;
}

function nearestOk(seen: readonly Seen[], timeS: number): Seen | null {
  return seen
    .filter((s) => s.ok)
    .reduce<Seen | null>(
      (a, b) => (a && Math.abs(a.timeS - timeS) <= Math.abs(b.timeS - timeS) ? a : b),
      null,
    );
}

/** Stretches of frames whose place against the reference is not known, seconds. */
export function stretchesLost(registrations: readonly FrameRegistration[]): [number, number][] {
  const lost: [number, number][] = [];
  registrations.forEach((r, i) => {
    if (r.ok) return;
    const open = lost.at(-1);
    if (open && i > 0 && !registrations[i - 1]!.ok) open[1] = r.timeS;
    else lost.push([r.timeS, r.timeS]);
  });
  return lost;
}

/** Area-averaged picture of SEARCH_WIDTH columns. */
function shrink({ data, width, height }: GreyPicture): Float32Array {
  const rows = Math.round((SEARCH_WIDTH * height) / width);
  const thumb = new Float32Array(SEARCH_WIDTH * rows);
  for (let r = 0; r < rows; r++)
    for (let c = 0; c < SEARCH_WIDTH; c++) {
      const [x0, x1] = [Math.floor((c * width) / SEARCH_WIDTH), Math.floor(((c + 1) * width) / SEARCH_WIDTH)];
      const [y0, y1] = [Math.floor((r * height) / rows), Math.floor(((r + 1) * height) / rows)];
      let sum = 0;
      for (let y = y0; y < y1; y++) for (let x = x0; x < x1; x++) sum += data[y * width + x]!;
      thumb[r * SEARCH_WIDTH + c] = sum / Math.max(1, (x1 - x0) * (y1 - y0));
    }
  return thumb;
}

/** The shift at which `b` looks most like `a` moved by it, by normalised correlation over the common part. */
function bestShift(a: Float32Array, b: Float32Array, columns: number, rows: number) {
  let best = { dx: 0, dy: 0, correlation: -1 };
  const [reachX, reachY] = [columns >> 1, rows >> 1];
  for (let dy = -reachY; dy <= reachY; dy++)
    for (let dx = -reachX; dx <= reachX; dx++) {
      const [x0, x1] = [Math.max(0, dx), Math.min(columns, columns + dx)];
      const [y0, y1] = [Math.max(0, dy), Math.min(rows, rows + dy)];
      let [n, sa, sb, saa, sbb, sab] = [0, 0, 0, 0, 0, 0];
      // Every other row and column is enough to tell one shift from the next.
      for (let y = y0; y < y1; y += 2)
        for (let x = x0; x < x1; x += 2) {
          const p = a[(y - dy) * columns + x - dx]!;
          const q = b[y * columns + x]!;
          n++;
          sa += p;
          sb += q;
          saa += p * p;
          sbb += q * q;
          sab += p * q;
        }
      const spread = (saa - (sa * sa) / n) * (sbb - (sb * sb) / n);
      const correlation = spread > 0 ? (sab - (sa * sb) / n) / Math.sqrt(spread) : -1;
      if (correlation > best.correlation) best = { dx, dy, correlation };
    }
  return best;
}
