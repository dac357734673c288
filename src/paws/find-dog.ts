import type { ClipFrame, Region } from "../video/types.ts";
import { type FrameSize, placeCrop } from "./crop.ts";
import type { Box, PawNetwork } from "./types.ts";

/** A dog smaller than this share of the picture it was found in is looked at once more, nearer. */
const SMALL_DOG = 0.35;
const LEAST_SCORE = 0.4;

/**
 * Looks for dogs in the whole frame: the frame shrunk into one square, and, where that shows none, two or three
 * overlapping squares along its longer side. Boxes in frame pixels, best first, score 0 to 1; empty without a dog.
 */
export async function findDog(
  network: PawNetwork,
  frame: Pick<ClipFrame, "rgb">,
  frameSize: FrameSize,
): Promise<(Box & { score: number })[]> {
  let found = await lookIn(network, frame, wholeFrame(frameSize));
  if (found.length === 0) {
    for (const part of overlappingSquares(frameSize)) found.push(...(await lookIn(network, frame, part)));
    found = withoutRepeats(found);
  }
  const best = found[0];
  if (
    best &&
    Math.max(best.width, best.height) < SMALL_DOG * Math.max(frameSize.widthPx, frameSize.heightPx)
  ) {
    const nearer = await lookIn(network, frame, placeCrop(best, frameSize));
    if (nearer[0]) found[0] = nearer[0];
  }
  return found;
}

function wholeFrame({ widthPx: width, heightPx: height }: FrameSize): Region {
  const side = Math.max(width, height);
  return { x: (width - side) / 2, y: (height - side) / 2, width: side, height: side };
}

function overlappingSquares({ widthPx: width, heightPx: height }: FrameSize): Region[] {
  const side = Math.min(width, height);
  const room = Math.max(width, height) - side;
  if (room < side * 0.2) return [];
  const starts = room > side * 0.8 ? [0, room / 2, room] : [0, room];
  return starts.map((at) => ({
    x: width > height ? at : 0,
    y: width > height ? 0 : at,
    width: side,
    height: side,
  }));
}

async function lookIn(network: PawNetwork, frame: Pick<ClipFrame, "rgb">, region: Region) {
  const sighting = await network.look(frame.rgb(region, network.inputPx, network.inputPx));
  const scale = region.width / network.inputPx;
  return (sighting.dogBoxes ?? [])
    .filter((box) => box.score >= LEAST_SCORE && hasPaws(box, sighting.peaks))
    .map((box) => ({
      x: region.x + box.x * scale,
      y: region.y + box.y * scale,
      width: box.width * scale,
      height: box.height * scale,
      score: box.score,
    }));
}

/** A dog shows at least one paw in or just below its box; a cushion of its colour does not. */
function hasPaws(box: Box, peaks: { x: number; y: number }[]): boolean {
  const slack = 0.15 * Math.max(box.width, box.height);
  return peaks.some(
    (p) =>
      p.x > box.x - slack &&
      p.x < box.x + box.width + slack &&
      p.y > box.y - slack &&
      p.y < box.y + box.height + slack,
  );
}

/** Drops boxes that lie mostly in a better one. */
function withoutRepeats(boxes: (Box & { score: number })[]): (Box & { score: number })[] {
  const best = [...boxes].sort((a, b) => b.width * b.height * b.score - a.width * a.height * a.score);
  return best.filter((box, i) =>
    best.slice(0, i).every((kept) => overlap(box, kept) < 0.5 * box.width * box.height),
  );
}

function overlap(a: Box, b: Box): number {
  const width = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
  const height = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
  return Math.max(0, width) * Math.max(0, height);
}
