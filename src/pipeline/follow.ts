import { placeCrop } from "../paws/crop.ts";
import type { PawNetwork, PawPeak } from "../paws/types.ts";
import type { ClipFrame, Region } from "../video/types.ts";

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** What was seen of the dog in one frame, in pixels of the upright full-size picture. */
export interface FrameSighting {
  box: Box;
  dogScore: number;
  /** True where the picture's edge cuts the dog's box. */
  cut: boolean;
  peaks: PawPeak[];
  /** Full-size pixels per pixel of the network's input. */
  scale: number;
}

/** Under this the network is taken to see no dog. */
const DOG_SEEN = 0.35;
/** While no dog is in sight, look for one this often. */
const SEARCH_EVERY_S = 0.12;
/** A dog not seen for this long is looked for anew. */
const LOST_AFTER_S = 0.2;

/**
 * Keeps the network's crop on the dog from frame to frame; looks for the dog where none is in sight: over the
 * whole picture first, then tile by tile along the row, where a small dog fills more of the crop.
 */
export function createFollower(network: PawNetwork, tiles: Region[]) {
  const side = network.inputPx;
  const pixels = new Uint8Array(side * side * 3);
  let box: Box | null = null;
  let velocity = { x: 0, y: 0 };
  let seenS = Number.NEGATIVE_INFINITY;
  let searchedS = Number.NEGATIVE_INFINITY;
  let nextTile = 0;

  async function lookAt(frame: ClipFrame, region: Region, size: FrameSize): Promise<FrameSighting | null> {
    frame.rgb(region, side, side, pixels);
    const sighting = await network.look(pixels);
    if (sighting.dogScore < DOG_SEEN || !sighting.dogBox) return null;
    const scale = region.width / side;
    const toFull = (b: Box): Box => ({
      x: region.x + b.x * scale,
      y: region.y + b.y * scale,
      width: b.width * scale,
      height: b.height * scale,
    });
    const full = toFull(sighting.dogBox);
    const margin = 0.01 * size.widthPx;
    const cutBySize = full.x < margin || full.y < margin || full.x + full.width > size.widthPx - margin;
    // A box that ends where the crop ends may go on outside it: the next crop, larger, will tell.
    const cutByCrop = sighting.dogBox.x < 2 || sighting.dogBox.x + sighting.dogBox.width > side - 2;
    return {
      box: full,
      dogScore: sighting.dogScore,
      cut: cutBySize || cutByCrop,
      scale,
      peaks: sighting.peaks
        .map((p) => ({ ...p, x: region.x + p.x * scale, y: region.y + p.y * scale }))
        .filter((p) => p.x >= 0 && p.y >= 0 && p.x < size.widthPx && p.y < size.heightPx),
    };
  }

  async function search(frame: ClipFrame, size: FrameSize): Promise<Box | null> {
    const long = Math.max(size.widthPx, size.heightPx);
    const whole = {
      x: (size.widthPx - long) / 2,
      y: (size.heightPx - long) / 2,
      width: long,
      height: long,
    };
    const seen = await lookAt(frame, whole, size);
    if (seen) return seen.box;
    const tile = tiles[nextTile++ % Math.max(1, tiles.length)];
    return tile ? ((await lookAt(frame, tile, size))?.box ?? null) : null;
  }

  return async function follow(frame: ClipFrame, size: FrameSize): Promise<FrameSighting | null> {
    if (!box) {
      if (frame.timeS - searchedS < SEARCH_EVERY_S) return null;
      searchedS = frame.timeS;
      box = await search(frame, size);
      if (!box) return null;
      seenS = frame.timeS;
      velocity = { x: 0, y: 0 };
    }
    const ahead = Math.min(0.1, frame.timeS - seenS);
    const guess = { ...box, x: box.x + velocity.x * ahead, y: box.y + velocity.y * ahead };
    const sighting = await lookAt(frame, placeCrop(guess, size), size);
    if (!sighting) {
      if (frame.timeS - seenS > LOST_AFTER_S) box = null;
      return null;
    }
    const dt = frame.timeS - seenS;
    if (dt > 0) {
      // Slow to believe a new speed: the box breathes with every stride.
      velocity = {
        x: 0.8 * velocity.x + (0.2 * (sighting.box.x - box.x)) / dt,
        y: 0.8 * velocity.y + (0.2 * (sighting.box.y - box.y)) / dt,
      };
    }
    box = blend(guess, sighting.box);
    seenS = frame.timeS;
    return sighting;
  };
}

export interface FrameSize {
  widthPx: number;
  heightPx: number;
}

/** The crop moves with the dog at once but changes size slowly, so that paws do not jitter with the box. */
function blend(guess: Box, seen: Box): Box {
  const width = 0.8 * guess.width + 0.2 * seen.width;
  const height = 0.8 * guess.height + 0.2 * seen.height;
  const cx = 0.4 * (guess.x + guess.width / 2) + 0.6 * (seen.x + seen.width / 2);
  const cy = 0.4 * (guess.y + guess.height / 2) + 0.6 * (seen.y + seen.height / 2);
  return { x: cx - width / 2, y: cy - height / 2, width, height };
}
