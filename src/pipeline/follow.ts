import { type FrameSize, placeCrop } from "../paws/crop.ts";
import { findDog } from "../paws/find-dog.ts";
import type { Box, PawNetwork, PawPeak, PawSighting } from "../paws/types.ts";
import type { ClipFrame, Region } from "../video/types.ts";

/** What was seen of the dog in one frame, in pixels of the upright full-size picture. */
export interface FrameSighting {
  box: Box;
  dogScore: number;
  /** True where the picture's edge cuts the dog's box. */
  cut: boolean;
  peaks: PawPeak[];
}

/** While no dog is in sight, look for one this often. */
const SEARCH_EVERY_S = 0.12;
/** A dog not seen for this long is looked for anew. */
const LOST_AFTER_S = 0.25;
/** A box whose middle leaps farther than this share of its size is not the dog that was followed. */
const LEAP = 0.6;

export type Follower = (frame: ClipFrame) => Promise<FrameSighting | null>;

/** Keeps the network's crop on the dog from frame to frame, and looks for the dog where none is in sight. */
export function createFollower(network: PawNetwork, size: FrameSize): Follower {
  const side = network.inputPx;
  const pixels = new Uint8Array(side * side * 3);
  let box: Box | null = null;
  let velocity = { x: 0, y: 0 };
  let seenS = 0;
  let searchedS = Number.NEGATIVE_INFINITY;

  return async (frame) => {
    if (!box) {
      if (frame.timeS - searchedS < SEARCH_EVERY_S) return null;
      searchedS = frame.timeS;
      const found = (await findDog(network, frame, size))[0];
      if (!found) return null;
      box = found;
      seenS = frame.timeS;
      velocity = { x: 0, y: 0 };
    }
    const since = frame.timeS - seenS;
    const guess: Box = { ...box, x: box.x + velocity.x * since, y: box.y + velocity.y * since };
    const region = placeCrop(guess, size);
    frame.rgb(region, side, side, pixels);
    const sighting = await network.look(pixels);
    const own = ownBox(sighting, region, side, guess);
    if (!own) {
      if (since > LOST_AFTER_S) box = null;
      return null;
    }
    if (since > 0) {
      // Slow to believe a new speed: the box breathes with every stride.
      const moved = { x: middle(own).x - middle(box).x, y: middle(own).y - middle(box).y };
      velocity = {
        x: 0.8 * velocity.x + (0.2 * moved.x) / since,
        y: 0.8 * velocity.y + (0.2 * moved.y) / since,
      };
    }
    box = blend(guess, own);
    seenS = frame.timeS;
    return inFrame(sighting, region, side, own, size);
  };
}

const middle = (b: Box) => ({ x: b.x + b.width / 2, y: b.y + b.height / 2 });

/** The box, of those in the crop, that goes on from where the dog was; null when none does. */
function ownBox(sighting: PawSighting, region: Region, side: number, guess: Box): Box | null {
  const scale = region.width / side;
  const at = middle(guess);
  const reach = LEAP * Math.max(guess.width, guess.height);
  const boxes = (sighting.dogBoxes ?? (sighting.dogBox ? [sighting.dogBox] : [])).map((b) => ({
    x: region.x + b.x * scale,
    y: region.y + b.y * scale,
    width: b.width * scale,
    height: b.height * scale,
  }));
  const near = boxes
    .filter((b) => Math.hypot(middle(b).x - at.x, middle(b).y - at.y) < reach)
    .sort((a, b) => b.width * b.height - a.width * a.height);
  return near[0] ?? null;
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

/** The crop moves with the dog at once but changes size slowly, so that paws do not jitter with the box. */
function blend(guess: Box, seen: Box): Box {
  const width = 0.8 * guess.width + 0.2 * seen.width;
  const height = 0.8 * guess.height + 0.2 * seen.height;
  const cx = 0.4 * middle(guess).x + 0.6 * middle(seen).x;
  const cy = 0.4 * middle(guess).y + 0.6 * middle(seen).y;
  return { x: cx - width / 2, y: cy - height / 2, width, height };
}
