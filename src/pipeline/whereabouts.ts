import { groundToImage, imageToGround } from "../ground/map.ts";
import type { GroundMap, GroundPoint } from "../ground/types.ts";
import type { FrameSize } from "../paws/crop.ts";
import type { Box } from "../paws/types.ts";
import type { Region } from "../video/types.ts";

/** Dogs seen from the side are between these lengths, nose to tail, metres (toy dogs to giants). */
const SHORTEST_DOG_M = 0.22;
const LONGEST_DOG_M = 2;
/** A dog that matters walks within this distance of the poles' ends, and of the row's ends, metres. */
const BESIDE_ROW_M = 1.2;
const BEYOND_ROW_M = 6;
/** Width of a search tile on the ground, metres: a large dog fits, a small one is still seen. */
const TILE_M = 1.8;

export interface Whereabouts {
  /** Parts of the picture along the row in which to look for a dog, upright full-size pixels of the reference frame. */
  tiles: Region[];
  /** Whether a box could be a dog that stands near the row. In a moving camera's frame only its size is asked. */
  plausible(box: Box, cameraStill: boolean): boolean;
}

/**
 * What the ground map says about where a dog can be and how large it looks there.
 *
 * @param heightShare Height of the network's crop over its width.
 */
export function whereabouts(map: GroundMap, size: FrameSize, heightShare: number): Whereabouts {
  const lastM = map.poleXM.at(-1) ?? 0;
  const middleY = map.poleLengthM / 2;
  const tiles: Region[] = [];
  for (let xM = -BEYOND_ROW_M; xM <= lastM + BEYOND_ROW_M; xM += TILE_M / 2) {
    const at = groundToImage(map, { xM, yM: middleY });
    if (!(at.x > 0 && at.x < size.widthPx && at.y > 0 && at.y < size.heightPx)) continue;
    const width = TILE_M * pixelsPerMetre(map, { xM, yM: middleY });
    if (!(width > 40 && width < 3 * size.widthPx)) continue;
    const height = heightShare * width;
    // The dog stands on the line: most of the tile is above it.
    tiles.push({ x: at.x - width / 2, y: at.y - 0.75 * height, width, height });
  }
  return {
    tiles,
    plausible(box, cameraStill) {
      const foot = { x: box.x + box.width / 2, y: box.y + box.height };
      const at = cameraStill ? imageToGround(map, foot) : { xM: lastM / 2, yM: middleY };
      const lengthM = box.width / pixelsPerMetre(map, at);
      if (!(lengthM > SHORTEST_DOG_M && lengthM < LONGEST_DOG_M)) return false;
      if (!cameraStill) return true;
      return (
        at.yM > -BESIDE_ROW_M &&
        at.yM < map.poleLengthM + BESIDE_ROW_M &&
        at.xM > -BEYOND_ROW_M &&
        at.xM < lastM + BEYOND_ROW_M
      );
    },
  };
}

/** Pixels that a metre along the row takes at a place on the ground. */
function pixelsPerMetre(map: GroundMap, at: GroundPoint): number {
  const a = groundToImage(map, { xM: at.xM - 0.25, yM: at.yM });
  const b = groundToImage(map, { xM: at.xM + 0.25, yM: at.yM });
  return Math.hypot(b.x - a.x, b.y - a.y) / 0.5;
}
