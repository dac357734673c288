import type { Region } from "../video/types.ts";
import type { Box } from "./types.ts";

export interface FrameSize {
  widthPx: number;
  heightPx: number;
}

/** Height of the crops that the pipeline gives the network: a dog seen from the side is half as high as long. */
export const LOW_CROP_PX = 160;
/** Share of the crop's side that the dog's longer side takes. */
const DOG_IN_CROP = 0.8;
/** Smaller boxes are treated as this large: less than a pixel of the network's input for each of the frame's. */
const LEAST_SIDE_PX = 32;

/**
 * The part of the frame to give the network for a dog's box: the dog takes 80 % of its width (or of its height, if
 * that is tighter), so that a paw swung forward or back stays inside. Kept within the frame where it fits; otherwise
 * it reaches over the edge.
 *
 * @param heightShare Height of the part over its width; 1, a square, unless told otherwise.
 */
export function placeCrop(box: Box, frameSize: FrameSize, heightShare = 1): Region {
  const width = Math.max(box.width, box.height / heightShare, LEAST_SIDE_PX) / DOG_IN_CROP;
  const height = width * heightShare;
  return {
    x: within(box.x + box.width / 2 - width / 2, width, frameSize.widthPx),
    y: within(box.y + box.height / 2 - height / 2, height, frameSize.heightPx),
    width,
    height,
  };
}

function within(start: number, side: number, room: number): number {
  return side >= room ? (room - side) / 2 : Math.max(0, Math.min(room - side, start));
}
