import type { Region } from "../video/types.ts";
import type { Box } from "./types.ts";

export interface FrameSize {
  widthPx: number;
  heightPx: number;
}

/** Share of the crop's side that the dog's longer side takes. */
const DOG_IN_CROP = 0.8;
/** Smaller boxes are treated as this large: less than a pixel of the network's input for each of the frame's. */
const LEAST_SIDE_PX = 32;

/**
 * The square to give the network for a dog's box: the dog's longer side takes 80 % of it, so that a paw swung
 * forward or back stays inside. Kept within the frame where it fits; otherwise it reaches over the edge.
 */
export function placeCrop(box: Box, frameSize: FrameSize): Region {
  const side = Math.max(box.width, box.height, LEAST_SIDE_PX) / DOG_IN_CROP;
  return {
    x: within(box.x + box.width / 2 - side / 2, side, frameSize.widthPx),
    y: within(box.y + box.height / 2 - side / 2, side, frameSize.heightPx),
    width: side,
    height: side,
  };
}

function within(start: number, side: number, room: number): number {
  return side >= room ? (room - side) / 2 : Math.max(0, Math.min(room - side, start));
}
