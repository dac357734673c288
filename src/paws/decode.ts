import { dogBoxes } from "./dog-boxes.ts";
import { type Peak, peaksOf } from "./peaks.ts";
import type { Joint, JointName, PawPeak, PawSighting } from "./types.ts";

/** The network's answer: cells in rows of `side`, one value per named map in each, probabilities. */
export interface MapSet {
  names: string[];
  /** Cells in a row; a square crop has as many rows. */
  side: number;
  /** Pixels of the crop per cell. */
  stride: number;
  /** Row by row, maps interleaved: values[(y × side + x) × names.length + map]. */
  values: Float32Array;
}

/** Peaks below this are noise: on held-out frames nearly all of them are near no paw. */
const LEAST_PAW = 0.1;
/** Peaks kept per paw map: four paws, and room for a second dog. */
const MOST_PAWS = 6;
/** A fore and a hind peak nearer than this are one foot seen by both maps, cells. */
const SAME_FOOT_CELLS = 2;
const LEAST_JOINT = 0.05;
/** Share of a square crop's cells that a dog in it covers at least; its score is the mean over as many best cells. */
const DOG_SHARE = 0.03;
/**
 * Mean mask of the best cells under which there is certainly no dog, and from which there certainly is one; the score
 * rises evenly between. Chosen on tests/bench/paws: halls without a dog and covered dogs stay under the first, a dog that
 * fills its crop is over the second.
 */
const NO_DOG = 0.6;
const SURE_DOG = 0.9;
const LEAST_DOG = 0.4;

/** Turns the maps into several candidates per paw, one skeleton and the dog's box, all in crop pixels. */
export function decodeMaps(maps: MapSet): PawSighting {
  const boxes = dogBoxes(plane(maps, "dog"), maps.side).map((b) => ({
    x: b.x * maps.stride,
    y: b.y * maps.stride,
    width: b.width * maps.stride,
    height: b.height * maps.stride,
    score: b.score,
  }));
  const covered = meanOfBest(plane(maps, "dog"), Math.round(DOG_SHARE * maps.side ** 2));
  const dogScore = Math.max(0, Math.min(1, (covered - NO_DOG) / (SURE_DOG - NO_DOG)));
  const best = boxes[0];
  return {
    peaks: pawPeaks(maps),
    joints: skeleton(maps),
    dogScore,
    dogBox:
      best && dogScore >= LEAST_DOG ? { x: best.x, y: best.y, width: best.width, height: best.height } : null,
    dogBoxes: boxes,
  };
}

function plane(maps: MapSet, name: string): Float32Array {
  const map = maps.names.indexOf(name);
  const out = new Float32Array(maps.values.length / maps.names.length);
  if (map < 0) return out;
  for (let i = 0; i < out.length; i++) out[i] = maps.values[i * maps.names.length + map]!;
  return out;
}

function meanOfBest(values: Float32Array, count: number): number {
  const sorted = Float32Array.from(values).sort();
  let sum = 0;
  for (let i = 0; i < count; i++) sum += sorted[sorted.length - 1 - i]!;
  return sum / count;
}

function pawPeaks(maps: MapSet): PawPeak[] {
  const fore = plane(maps, "forePaw");
  const hind = plane(maps, "hindPaw");
  const found = [
    ...peaksOf(fore, maps.side, LEAST_PAW, MOST_PAWS),
    ...peaksOf(hind, maps.side, LEAST_PAW, MOST_PAWS),
  ];
  found.sort((a, b) => b.score - a.score);
  const kept: Peak[] = [];
  for (const peak of found) {
    if (kept.every((k) => Math.hypot(k.x - peak.x, k.y - peak.y) > SAME_FOOT_CELLS)) kept.push(peak);
  }
  return kept.map((peak) => {
    const asFore = highestNear(fore, maps.side, peak);
    const asHind = highestNear(hind, maps.side, peak);
    return {
      x: peak.x * maps.stride,
      y: peak.y * maps.stride,
      score: peak.score,
      hind: asHind / (asFore + asHind),
      contact: traitAt(maps, "contact", peak),
      far: traitAt(maps, "far", peak),
    };
  });
}

function highestNear(map: Float32Array, side: number, peak: Peak): number {
  let highest = 0;
  for (let dy = -1; dy <= 1; dy++) {
    for (let dx = -1; dx <= 1; dx++) {
      const x = Math.floor(peak.x) + dx;
      const y = Math.floor(peak.y) + dy;
      if (x >= 0 && y >= 0 && x < side && y < map.length / side)
        highest = Math.max(highest, map[y * side + x]!);
    }
  }
  return highest;
}

/** A trait's probability in the peak's cell; even odds when the network has no such map. */
function traitAt(maps: MapSet, name: string, peak: Peak): number {
  const map = maps.names.indexOf(name);
  if (map < 0) return 0.5;
  const cell = Math.floor(peak.y) * maps.side + Math.floor(peak.x);
  return maps.values[cell * maps.names.length + map] ?? 0.5;
}

const SINGLES: [JointName, string][] = [
  ["nose", "nose"],
  ["withers", "withers"],
  ["tailBase", "tailBase"],
];

const PAIRS: [JointName, JointName, string][] = [
  ["leftEye", "rightEye", "eye"],
  ["leftShoulder", "rightShoulder", "shoulder"],
  ["leftElbow", "rightElbow", "elbow"],
  ["leftForePaw", "rightForePaw", "forePaw"],
  ["leftHip", "rightHip", "hip"],
  ["leftStifle", "rightStifle", "stifle"],
  ["leftHindPaw", "rightHindPaw", "hindPaw"],
];

/** One skeleton: the best peak of each single joint, and the best two of each pair given to left and right. */
function skeleton(maps: MapSet): Joint[] {
  const joints: Joint[] = [];
  const add = (name: JointName, peak: Peak | undefined) => {
    if (peak) joints.push({ name, x: peak.x * maps.stride, y: peak.y * maps.stride, score: peak.score });
  };
  for (const [name, map] of SINGLES) add(name, peaksOf(plane(maps, map), maps.side, LEAST_JOINT, 1)[0]);
  for (const [left, right, map] of PAIRS) {
    const [a, b] = peaksOf(plane(maps, map), maps.side, LEAST_JOINT, 2);
    if (!a) continue;
    const leftOdds = traitAt(maps, "left", a) - (b ? traitAt(maps, "left", b) : 0.5);
    add(left, leftOdds >= 0 ? a : b);
    add(right, leftOdds >= 0 ? b : a);
  }
  return joints;
}
