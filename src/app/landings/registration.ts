import { applyHomography, IDENTITY, invert3 } from "../../ground/homography.ts";
import { groundStandardError, groundToImage, imageToGround } from "../../ground/map.ts";
import type { FrameRegistration, GroundMap, GroundPoint, ImagePoint } from "../../ground/types.ts";

/** How ground and one frame's picture go together. */
export interface FrameView {
  toFrame(place: GroundPoint, heightM?: number): ImagePoint;
  toGround(point: ImagePoint): GroundPoint;
  /** Standard error along the row of a place tapped here, metres; 0 where it can't be told. */
  tapErrorM(point: ImagePoint): number;
  /** False where the background was lost: places are then off. */
  sure: boolean;
}

/** The frame shown at a time against the marked frame. Without registrations the camera stood still. */
export function frameViewAt(
  map: GroundMap,
  registrations: readonly FrameRegistration[],
  timeS: number,
): FrameView {
  const nearest = nearestInTime(registrations, timeS);
  const toReference = nearest?.frameToReference ?? IDENTITY;
  const fromReference = nearest ? invert3(toReference) : IDENTITY;
  return {
    toFrame: (place, heightM = 0) => applyHomography(fromReference, groundToImage(map, place, heightM)),
    toGround: (point) => imageToGround(map, applyHomography(toReference, point)),
    tapErrorM: (point) => {
      const error = groundStandardError(map, applyHomography(toReference, point), map.tapSdPx).xM;
      return Number.isFinite(error) ? error : 0;
    },
    sure: nearest?.ok ?? true,
  };
}

function nearestInTime(registrations: readonly FrameRegistration[], timeS: number): FrameRegistration | null {
  let nearest: FrameRegistration | null = null;
  for (const one of registrations) {
    if (!nearest || Math.abs(one.timeS - timeS) < Math.abs(nearest.timeS - timeS)) nearest = one;
  }
  return nearest;
}
