import { applyHomography, IDENTITY, invert3, scaledToLast } from "../../ground/homography.ts";
import { groundStandardError, groundToImage, imageToGround } from "../../ground/map.ts";
import type { FrameRegistration, GroundMap, GroundPoint, ImagePoint } from "../../ground/types.ts";
import type { Matrix3 } from "../../stats/types.ts";

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
  const registration = registrationAt(registrations, timeS);
  const toReference = registration?.frameToReference ?? IDENTITY;
  const fromReference = registration ? invert3(toReference) : IDENTITY;
  return {
    toFrame: (place, heightM = 0) => applyHomography(fromReference, groundToImage(map, place, heightM)),
    toGround: (point) => imageToGround(map, applyHomography(toReference, point)),
    tapErrorM: (point) => {
      const error = groundStandardError(map, applyHomography(toReference, point), map.tapSdPx).xM;
      return Number.isFinite(error) ? error : 0;
    },
    sure: registration?.ok ?? true,
  };
}

/**
 * The registration at a time: of the frames beside it where not every frame was registered, in proportion. A hand turns
 * a phone by several pixels from one registered frame to the next.
 */
function registrationAt(
  registrations: readonly FrameRegistration[],
  timeS: number,
): FrameRegistration | null {
  const next = registrations.findIndex((one) => one.timeS >= timeS);
  const after = registrations[next < 0 ? registrations.length - 1 : next];
  const before = next > 0 ? registrations[next - 1] : after;
  if (!after || !before) return null;
  const share = after === before ? 1 : (timeS - before.timeS) / (after.timeS - before.timeS);
  if (!(before.ok && after.ok)) return share < 0.5 ? before : after;
  const [a, b] = [scaledToLast(before.frameToReference), scaledToLast(after.frameToReference)];
  return {
    timeS,
    ok: true,
    frameToReference: a.map((entry, k) => entry + share * (b[k]! - entry)) as Matrix3,
  };
}
