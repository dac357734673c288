import type { GaitEvidence } from "../gait/evidence.ts";
import type { BodyTrack, PawCandidate } from "../gait/types.ts";
import { applyHomography } from "../ground/homography.ts";
import { groundStandardError, groundToImage, imageToGround } from "../ground/map.ts";
import type { GroundMap, ImagePoint } from "../ground/types.ts";
import type { Matrix3 } from "../stats/types.ts";
import type { FrameSighting } from "./follow.ts";
import type { StillFoot } from "./strip.ts";

/** One frame that was looked at; sighting null where no dog was seen. */
export interface FrameLook {
  timeS: number;
  sighting: FrameSighting | null;
}

/** Middle of a paw above the ground, metres. Common practice, no source. */
const PAW_HEIGHT_M = 0.02;
/** How far off a single paw mark of the network is, as a share of the dog's box: sets the mapping's error. */
const MARK_SD_SHARE = 0.012;
/** A body whose box is cut by the picture's edge says little about where its middle is. */
const CUT_SCORE = 0.1;
/** The motion witness speaks of feet only where the dog is: this far outside its box, as a share of the box. */
const BESIDE_DOG = 0.1;
/** Weight of a motion sighting beside the network's. */
const MOTION_WEIGHT = 0.5;

/**
 * Brings what both witnesses saw onto the ground.
 *
 * @param referenceOf Frame-to-reference map at a look; null where the camera's motion was lost.
 */
export function gatherEvidence(
  looks: FrameLook[],
  feet: StillFoot[],
  map: GroundMap,
  referenceOf: (look: number) => Matrix3 | null,
): GaitEvidence {
  const candidates: PawCandidate[] = [];
  const body: BodyTrack[] = [];
  looks.forEach((look, frame) => {
    const toReference = referenceOf(frame);
    const seen = look.sighting;
    if (!seen || !toReference) return;
    const onGround = (p: ImagePoint, heightM: number) =>
      imageToGround(map, applyHomography(toReference, p), heightM);
    const { box } = seen;
    const left = onGround({ x: box.x, y: box.y + box.height }, 0);
    const right = onGround({ x: box.x + box.width, y: box.y + box.height }, 0);
    const lengthM = Math.abs(right.xM - left.xM);
    // Past the horizon or absurdly large: a box that does not stand on this ground.
    if (!(lengthM > 0.1 && lengthM < 3)) return;
    body.push({
      frame,
      timeS: look.timeS,
      xM: (left.xM + right.xM) / 2,
      lengthM,
      score: seen.cut ? CUT_SCORE : seen.dogScore,
    });
    const markSd = MARK_SD_SHARE * Math.max(box.width, box.height);
    for (const peak of seen.peaks) {
      const inReference = applyHomography(toReference, peak);
      const g = imageToGround(map, inReference, PAW_HEIGHT_M);
      if (!Number.isFinite(g.xM) || Math.abs(g.yM) > 5) continue;
      candidates.push({
        frame,
        timeS: look.timeS,
        xM: g.xM,
        yM: g.yM,
        score: peak.score,
        hind: peak.hind,
        contact: peak.contact,
        source: "network",
        xSeM: groundStandardError(map, inReference, 0.3 * markSd).xM,
      });
    }
  });
  for (const foot of feet) {
    const seen = looks[foot.look]?.sighting;
    const toReference = referenceOf(foot.look);
    if (!seen || !toReference) continue;
    const slack = BESIDE_DOG * seen.box.width;
    if (foot.at.x < seen.box.x - slack || foot.at.x > seen.box.x + seen.box.width + slack) continue;
    const inReference = applyHomography(toReference, foot.at);
    const g = imageToGround(map, inReference, 0);
    candidates.push({
      frame: foot.look,
      timeS: foot.timeS,
      xM: g.xM,
      yM: g.yM,
      score: MOTION_WEIGHT * foot.score,
      hind: 0.5,
      contact: 0.9,
      source: "motion",
      xSeM: groundStandardError(map, inReference, 1).xM,
    });
  }
  candidates.sort((a, b) => a.frame - b.frame);
  const first = groundToImage(map, { xM: 0, yM: map.poleLengthM / 2 });
  const last = groundToImage(map, { xM: map.poleXM.at(-1) ?? 1, yM: map.poleLengthM / 2 });
  return { frameTimesS: looks.map((l) => l.timeS), candidates, body, xRunsRight: last.x > first.x };
}
