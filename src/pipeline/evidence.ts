import { median } from "simple-statistics";
import type { GaitEvidence } from "../gait/evidence.ts";
import type { BodyTrack, PawCandidate } from "../gait/types.ts";
import { applyHomography } from "../ground/homography.ts";
import { groundToImage, imageToGround } from "../ground/map.ts";
import type { GroundMap, GroundPoint, ImagePoint } from "../ground/types.ts";
import type { Box } from "../paws/types.ts";
import type { Matrix3 } from "../stats/types.ts";
import type { FrameSighting } from "./follow.ts";
import { onPole, placePaw, placeStillFoot } from "./paw-place.ts";
import type { GroundMotion } from "./strip.ts";

/** One frame that the network looked at; sighting null where no dog was seen. */
export interface FrameLook {
  /** Index into the frame times. */
  frame: number;
  timeS: number;
  sighting: FrameSighting | null;
}

/** What was seen of a stretch, in pixels. */
export interface Sights {
  /** Times of the frames that the evidence speaks of, seconds; looks name them by index. */
  frameTimesS: number[];
  looks: FrameLook[];
  motion: GroundMotion | null;
  /** Frame-to-reference map of a look; null where the camera's motion was lost. */
  referenceOf: (look: FrameLook) => Matrix3 | null;
}

/** Height of a dog of which no whole box was seen, and the least and the most that is believed, metres. */
const USUAL_DOG_M = 0.7;
const DOG_M = [0.2, 1.2] as const;
/** A height over which a picture's scale hardly changes, metres. */
const SMALL_M = 0.05;
/** A body whose box is cut by the picture's edge says little about where its middle is. */
const CUT_SCORE = 0.1;
/** The motion witness speaks of feet only where the dog is: this far outside its box, as a share of the box. */
const BESIDE_DOG = 0.1;
/** Weight of a motion sighting beside the network's. */
const MOTION_WEIGHT = 0.3;
/** A paw farther than this from the poles' ends is none of a dog that goes through them: the handler's shoe, say. */
const BESIDE_ROW_M = 0.5;
/** Marks weaker than this are not worth carrying on. */
const LEAST_SCORE = 0.05;
/** Paws land between poles; what looks like a paw on a pole or its stand mostly is the pole. */
const ON_POLE = 0.4;
/** A mark in which the pad network sees no paw is worth little: it may be one half hidden. */
const NO_PAW = 0.15;

/**
 * Brings what both witnesses saw onto the ground.
 *
 * @param referenceOf Frame-to-reference map at a look; null where the camera's motion was lost.
 */
export function gatherEvidence(
  { frameTimesS, looks, motion, referenceOf }: Sights,
  map: GroundMap,
): GaitEvidence {
  const candidates: PawCandidate[] = [];
  const body: BodyTrack[] = [];
  const dogM = dogHeight(looks, referenceOf, map);
  for (const look of looks) {
    const toReference = referenceOf(look);
    const seen = look.sighting;
    if (!seen || !toReference) continue;
    const onGround = (p: ImagePoint, heightM: number) =>
      imageToGround(map, applyHomography(toReference, p), heightM);
    const { box } = seen;
    const left = onGround({ x: box.x, y: box.y + box.height }, 0);
    const right = onGround({ x: box.x + box.width, y: box.y + box.height }, 0);
    const lengthM = Math.abs(right.xM - left.xM);
    // Past the horizon or absurdly large: a box that does not stand on this ground.
    if (!(lengthM > 0.1 && lengthM < 3)) continue;
    body.push({
      frame: look.frame,
      timeS: look.timeS,
      xM: (left.xM + right.xM) / 2,
      lengthM,
      score: seen.cut ? CUT_SCORE : seen.dogScore,
    });
    for (const peak of seen.peaks) {
      const g = placePaw(map, toReference, peak, box, dogM);
      if (!Number.isFinite(g.xM) || besideRow(map, g) > BESIDE_ROW_M) continue;
      const reading = motion?.readings.get(peak);
      // Where motion sees bare ground, no paw from near by, or a pole lies, the network has mistaken something for a paw.
      const paw = peak.pad ? NO_PAW + (1 - NO_PAW) * peak.pad.paw : onPole(map, g) ? ON_POLE : 1;
      const doubt = (reading ? covering(reading.covered) : 1) * paw;
      if (peak.score * doubt < LEAST_SCORE) continue;
      const marked: PawCandidate = {
        frame: look.frame,
        timeS: look.timeS,
        ...g,
        score: peak.score * doubt,
        hind: peak.hind,
        contact: reading ? 0.2 + 0.7 * reading.still : peak.contact,
        source: "network",
      };
      candidates.push(marked);
      for (const { frame, timeS, held } of motion?.held.get(peak) ?? []) {
        candidates.push({ ...marked, frame, timeS, score: marked.score * held, contact: 0.2 + 0.7 * held });
      }
    }
  }
  for (const foot of motion?.feet ?? []) {
    const about = looksAbout(looks, foot.frame);
    const toReference = about[0] && referenceOf(about[0]);
    const box = boxAt(about, foot.timeS);
    if (!box || !toReference) continue;
    const slack = BESIDE_DOG * box.width;
    const under = foot.at.x > box.x - slack && foot.at.x < box.x + box.width + slack;
    const low = foot.at.y > box.y + 0.6 * box.height && foot.at.y < box.y + 1.15 * box.height;
    // Where the network has its own mark, that one is better placed.
    const told = about.some((look) =>
      look.sighting?.peaks.some(
        (p) =>
          Math.abs(p.x - foot.at.x) < 0.09 * box.width &&
          p.score > 0.15 &&
          (look.frame === foot.frame || motion?.held.get(p)?.some((h) => h.frame === foot.frame)),
      ),
    );
    if (!under || !low || told) continue;
    const g = placeStillFoot(map, applyHomography(toReference, foot.at), dogM);
    candidates.push({
      frame: foot.frame,
      timeS: foot.timeS,
      ...g,
      score: MOTION_WEIGHT * foot.score * (onPole(map, g) ? ON_POLE : 1),
      hind: 0.5,
      contact: 0.9,
      source: "motion",
    });
  }
  candidates.sort((a, b) => a.frame - b.frame);
  const first = groundToImage(map, { xM: 0, yM: map.poleLengthM / 2 });
  const last = groundToImage(map, { xM: map.poleXM.at(-1) ?? 1, yM: map.poleLengthM / 2 });
  return {
    frameTimesS,
    candidates,
    body,
    xRunsRight: last.x > first.x,
  };
}

/** How high the dog's box stands over the ground, metres: the median of the looks that saw it whole. */
function dogHeight(looks: readonly FrameLook[], referenceOf: Sights["referenceOf"], map: GroundMap): number {
  const heights = looks.flatMap((look) => {
    const toReference = referenceOf(look);
    if (!look.sighting || look.sighting.cut || !toReference || !map.camera) return [];
    const { x, y, width, height } = look.sighting.box;
    const [top, foot] = [y, y + height].map((row) =>
      applyHomography(toReference, { x: x + width / 2, y: row }),
    );
    const raised = groundToImage(map, imageToGround(map, foot!), SMALL_M);
    const heightM = (SMALL_M * (foot!.y - top!.y)) / (foot!.y - raised.y);
    return heightM > DOG_M[0] && heightM < DOG_M[1] ? [heightM] : [];
  });
  return heights.length > 0 ? median(heights) : USUAL_DOG_M;
}

/** The look at a frame, or those just before and after it. */
function looksAbout(looks: FrameLook[], frame: number): FrameLook[] {
  let low = 0;
  let high = looks.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (looks[middle]!.frame < frame) low = middle + 1;
    else high = middle;
  }
  if (looks[low]?.frame === frame) return [looks[low]!];
  return [looks[low - 1], looks[low]].filter((look) => look !== undefined);
}

/** Where the dog was at a time between looks; null where none of them saw it. */
function boxAt(about: FrameLook[], timeS: number): Box | null {
  const [a, b] = about.filter((look) => look.sighting !== null);
  const [before, after] = [a?.sighting?.box, b?.sighting?.box];
  if (!before || !after) return before ?? null;
  const share = (timeS - a!.timeS) / (b!.timeS - a!.timeS);
  const between = (p: number, q: number) => p + share * (q - p);
  return {
    x: between(before.x, after.x),
    y: between(before.y, after.y),
    width: between(before.width, after.width),
    height: between(before.height, after.height),
  };
}

/** 0.1 where the ground lies bare to 1 where at least a third of the place is hidden. */
function covering(share: number): number {
  return Math.min(1, 0.1 + 3 * Math.max(0, share - 0.05));
}

/** How far beside the poles a place lies, metres; 0 between their ends. */
function besideRow(map: GroundMap, g: GroundPoint): number {
  return Math.max(0, -g.yM, g.yM - map.poleLengthM);
}
