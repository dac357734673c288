import { type FrameSize, placeCrop } from "../paws/crop.ts";
import type { Box, PawNetwork, PawSighting } from "../paws/types.ts";
import type { ClipFrame, Region } from "../video/types.ts";
import { type MarkedPaw, withPads } from "./pads.ts";
import type { Whereabouts } from "./whereabouts.ts";

/** What was seen of the dog in one frame, in pixels of the upright full-size picture. */
export interface FrameSighting {
  box: Box;
  dogScore: number;
  /** True where the picture's edge cuts the dog's box. */
  cut: boolean;
  peaks: MarkedPaw[];
}

/** While no dog is in sight, look for one this often. */
const SEARCH_EVERY_S = 0.1;
/** A dog not seen for this long is looked for anew. */
const LOST_AFTER_S = 0.25;
/** A box whose middle leaps farther than this share of its size is not the dog that was followed. */
const LEAP = 0.6;
/** Tiles looked into at one search: those in which most has changed since the search before. */
const TILES_A_SEARCH = 2;
/** Mean change of grey level under which nothing moves in a tile. */
const NOTHING_MOVES = 0.8;
/** Something dog-like that has not moved by a fifth of its size for this long may be no dog: look elsewhere too. */
const IDLE_S = 0.5;
const IDLE_MOVE = 0.2;
/** ... all the more where something this much larger is seen to move about it. */
const OUTGROWN = 1.5;
/** Mask pieces and paws surer than this belong to the dog's box. */
const SURE_PIECE = 0.5;
const SURE_PAW = 0.5;
/** At least one piece must be this share of the dog's size; specks alone are no dog. */
const SMALLEST_PIECE = 0.3;
/** A dog just found may be seen in part only: its first crop is at least this share of the tile it was found in. */
const FIRST_SHARE = 0.5;
/** Share of its size that the crop keeps over a second of smaller boxes: a dog does not shrink, but its first box may have been too large. */
const SHRINK = 0.4;
/** Share of an old speed, and of a guessed place, that is left after a second of other sightings. */
const OLD_SPEED = 1.5e-6;
const OLD_PLACE = 1e-24;
/** Width of the picture in which something moving is looked for, pixels. */
const SEARCH_PX = 160;

export interface Follower {
  /** @param cameraStill Whether the picture stands on the reference frame. */
  look(frame: ClipFrame, cameraStill: boolean): Promise<FrameSighting | null>;
}

interface Track {
  box: Box;
  velocity: { x: number; y: number };
  seenS: number;
  /** Where along the picture and since when the box has hardly moved: a dog goes along, a thing is seen now higher, now lower. */
  idle: { x: number; sinceS: number };
}

/** Keeps the network's crop on the dog from frame to frame, and looks for the dog where none is in sight. */
export function createFollower(network: PawNetwork, size: FrameSize, where: Whereabouts): Follower {
  const { inputPx: side, inputHeightPx } = network;
  const heightShare = inputHeightPx / side;
  let track: Track | null = null;
  let searchedS = Number.NEGATIVE_INFINITY;
  let searched: Uint8Array | null = null;
  const band = searchBand(where.tiles, size);

  const lookInto = async (frame: ClipFrame, region: Region): Promise<PawSighting> => {
    return network.look(frame.rgb(region, side, inputHeightPx));
  };

  /** The best plausible box among the tiles in which something moves. */
  async function search(frame: ClipFrame, still: boolean): Promise<Box | null> {
    searchedS = frame.timeS;
    const before = searched;
    if (!band) return null;
    const now = frame.grey(band.region, band.width, band.height);
    searched = now;
    if (!before) return null;
    const busy = where.tiles
      .map((tile) => ({ tile, change: changeIn(tile, before, now, band) }))
      .filter((t) => t.change > NOTHING_MOVES)
      .sort((a, b) => b.change - a.change)
      .slice(0, TILES_A_SEARCH);
    let best: { box: Box; worth: number } | null = null;
    for (const { tile } of busy) {
      for (const found of boxesOf(await lookInto(frame, tile), tile, side)) {
        if (!where.plausible(found.box, still)) continue;
        const worth = found.score * Math.sqrt(found.box.width * found.box.height);
        if (!best || worth > best.worth) best = { box: atLeast(found.box, FIRST_SHARE * tile.width), worth };
      }
    }
    return best?.box ?? null;
  }

  return {
    async look(frame, still) {
      const idle = track !== null && frame.timeS - track.idle.sinceS > IDLE_S;
      if ((!track || idle) && frame.timeS - searchedS >= SEARCH_EVERY_S) {
        const found = await search(frame, still);
        if (found && (!track || farFrom(found, track.box) || outgrown(track.box, found)))
          track = trackFrom(found, frame.timeS);
      }
      if (!track) return null;
      const since = frame.timeS - track.seenS;
      const guess: Box = {
        ...track.box,
        x: track.box.x + track.velocity.x * since,
        y: track.box.y + track.velocity.y * since,
      };
      const region = placeCrop(guess, size, heightShare);
      const sighting = await lookInto(frame, region);
      const own = ownBox(sighting, region, side, guess, (box) => where.plausible(box, still));
      if (!own) {
        if (since > LOST_AFTER_S) track = null;
        // The dog is leaving the picture or hidden for a moment: its feet may still be seen where it must be.
        if (!track) return null;
        const hidden = { ...inFrame(sighting, region, side, guess, size), dogScore: 0, cut: true };
        return withPads(network, frame, hidden);
      }
      track = advanced(track, guess, own, frame.timeS);
      return withPads(network, frame, inFrame(sighting, region, side, own, size));
    },
  };
}

/** The box widened about its middle to a least width; what it stands on stays. */
function atLeast(box: Box, width: number): Box {
  const wide = Math.max(width, box.width);
  const high = Math.max(0.6 * wide, box.height);
  return { x: middle(box).x - wide / 2, y: box.y + box.height - high, width: wide, height: high };
}

const middle = (b: Box) => ({ x: b.x + b.width / 2, y: b.y + b.height / 2 });
const longSide = (b: Box) => Math.max(b.width, b.height);

function distance(a: Box, b: Box): number {
  return Math.hypot(middle(a).x - middle(b).x, middle(a).y - middle(b).y);
}

const farFrom = (a: Box, b: Box) => distance(a, b) > LEAP * longSide(b);

/** Whether a box that stays where it is may be a part of something much larger, or a thing that it passes. */
const outgrown = (still: Box, found: Box) => longSide(found) > OUTGROWN * longSide(still);

interface SearchBand {
  region: Region;
  width: number;
  height: number;
}

/** The part of the picture that the tiles cover; null where there are none. */
function searchBand(tiles: Region[], size: FrameSize): SearchBand | null {
  const left = Math.max(0, Math.min(...tiles.map((t) => t.x)));
  const top = Math.max(0, Math.min(...tiles.map((t) => t.y)));
  const right = Math.min(size.widthPx, Math.max(...tiles.map((t) => t.x + t.width)));
  const bottom = Math.min(size.heightPx, Math.max(...tiles.map((t) => t.y + t.height)));
  if (!(right > left && bottom > top)) return null;
  const region = { x: left, y: top, width: right - left, height: bottom - top };
  return {
    region,
    width: SEARCH_PX,
    height: Math.max(1, Math.round((SEARCH_PX * region.height) / region.width)),
  };
}

/** Mean absolute change of grey within a tile since an earlier picture of the band. */
function changeIn(tile: Region, before: Uint8Array, now: Uint8Array, band: SearchBand): number {
  const scale = band.region.width / band.width;
  const x0 = Math.max(0, Math.floor((tile.x - band.region.x) / scale));
  const y0 = Math.max(0, Math.floor((tile.y - band.region.y) / scale));
  const x1 = Math.min(band.width, Math.ceil((tile.x + tile.width - band.region.x) / scale));
  const y1 = Math.min(band.height, Math.ceil((tile.y + tile.height - band.region.y) / scale));
  let sum = 0;
  for (let y = y0; y < y1; y++) {
    for (let i = y * band.width + x0; i < y * band.width + x1; i++) sum += Math.abs(now[i]! - before[i]!);
  }
  const area = (x1 - x0) * (y1 - y0);
  return area > 0 ? sum / area : 0;
}

function boxesOf(sighting: PawSighting, region: Region, side: number): { box: Box; score: number }[] {
  const scale = region.width / side;
  const boxes =
    sighting.dogBoxes ?? (sighting.dogBox ? [{ ...sighting.dogBox, score: sighting.dogScore }] : []);
  return boxes.map((b) => ({
    box: {
      x: region.x + b.x * scale,
      y: region.y + b.y * scale,
      width: b.width * scale,
      height: b.height * scale,
    },
    score: b.score,
  }));
}

/**
 * The dog in the crop, as it goes on from where it was: everything dog-like within its reach taken together, for
 * poles and lead cut the dog in pieces, and its sure paws with it. Null when nothing plausible is there.
 */
function ownBox(
  sighting: PawSighting,
  region: Region,
  side: number,
  guess: Box,
  plausible: (box: Box) => boolean,
): Box | null {
  const pieces = boxesOf(sighting, region, side)
    .filter((b) => b.score > SURE_PIECE && !farFrom(b.box, guess))
    .map((b) => b.box);
  if (!pieces.some((piece) => longSide(piece) > SMALLEST_PIECE * longSide(guess))) return null;
  const scale = region.width / side;
  for (const p of sighting.peaks) {
    if (p.score < SURE_PAW) continue;
    const paw = { x: region.x + p.x * scale, y: region.y + p.y * scale, width: 0, height: 0 };
    const reaches = Math.abs(paw.x - middle(guess).x) < 0.55 * guess.width;
    if (reaches && paw.y > middle(guess).y && paw.y < guess.y + 1.15 * guess.height) pieces.push(paw);
  }
  const whole = pieces.reduce(union);
  return plausible(whole) ? whole : null;
}

function union(a: Box, b: Box): Box {
  const x = Math.min(a.x, b.x);
  const y = Math.min(a.y, b.y);
  return {
    x,
    y,
    width: Math.max(a.x + a.width, b.x + b.width) - x,
    height: Math.max(a.y + a.height, b.y + b.height) - y,
  };
}

function trackFrom(box: Box, timeS: number): Track {
  return { box, velocity: { x: 0, y: 0 }, seenS: timeS, idle: { x: middle(box).x, sinceS: timeS } };
}

function advanced(track: Track, guess: Box, seen: Box, timeS: number): Track {
  const since = timeS - track.seenS;
  const at = middle(seen);
  const before = middle(track.box);
  // Slow to believe a new speed: the box breathes with every stride.
  const old = OLD_SPEED ** since;
  const velocity =
    since > 0
      ? {
          x: old * track.velocity.x + ((1 - old) * (at.x - before.x)) / since,
          y: old * track.velocity.y + ((1 - old) * (at.y - before.y)) / since,
        }
      : track.velocity;
  const moved = Math.abs(at.x - track.idle.x) > IDLE_MOVE * longSide(seen);
  return {
    box: blend(guess, seen, since),
    velocity,
    seenS: timeS,
    idle: moved ? { x: at.x, sinceS: timeS } : track.idle,
  };
}

/** The crop moves with the dog at once; it grows with it at once too, but hardly shrinks. */
function blend(guess: Box, seen: Box, since: number): Box {
  const width = Math.max(seen.width, SHRINK ** since * guess.width);
  const height = Math.max(seen.height, SHRINK ** since * guess.height);
  const old = OLD_PLACE ** since;
  const cx = old * middle(guess).x + (1 - old) * middle(seen).x;
  const cy = old * middle(guess).y + (1 - old) * middle(seen).y;
  return { x: cx - width / 2, y: cy - height / 2, width, height };
}

function inFrame(
  sighting: PawSighting,
  region: Region,
  side: number,
  box: Box,
  size: FrameSize,
): FrameSighting {
  const scale = region.width / side;
  const margin = 0.008 * size.widthPx;
  return {
    box,
    dogScore: sighting.dogScore,
    cut: box.x < margin || box.x + box.width > size.widthPx - margin,
    peaks: sighting.peaks
      .map((p) => ({ ...p, x: region.x + p.x * scale, y: region.y + p.y * scale }))
      .filter((p) => p.x >= 0 && p.y >= 0 && p.x < size.widthPx && p.y < size.heightPx),
  };
}
