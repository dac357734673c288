import { rowRegion } from "../ground/map.ts";
import type { GreyPicture, GroundMap, ImagePoint } from "../ground/types.ts";
import type { PawPeak } from "../paws/types.ts";
import type { ClipFrame, Region } from "../video/types.ts";
import type { FrameLook } from "./evidence.ts";
import { type PlaceReading, readMotion } from "./motion.ts";

/** A foot seen by the motion witness, pixels of the upright full-size picture. */
export interface StillFoot {
  frame: number;
  timeS: number;
  at: ImagePoint;
  score: number;
}

/** A paw marked in one look that a frame before or after shows unmoved at the same place. */
export interface HeldPaw {
  frame: number;
  timeS: number;
  peak: PawPeak;
  /** 0 to 1: share of it that is unchanged. */
  held: number;
}

/** What motion says of a clip. */
export interface GroundMotion {
  feet: StillFoot[];
  /** By the paw marks that hold still: in the frames up to the looks that mark the same paw themselves. */
  held: Map<PawPeak, HeldPaw[]>;
  readings: Map<PawPeak, PlaceReading>;
}

/** Widest strip kept, pixels: a paw is still 5 px or more across. */
const WIDEST_PX = 600;
/** Strips kept before they are read and let go: bounds the memory whatever the clip's length. */
const MOST_STRIPS = 600;
/** Strips that stay beside those still to be read, so that no stance is cut: three tenths of a second. */
const CONTEXT = 18;
/** Strips of the empty scene that stay for a short rest of the clip. */
const SCENE_BEFORE = 12;
/** Ground looked at before the first and after the last pole, and how high above it. */
const BEYOND_M = 1.5;
const ABOVE_M = 0.12;
/** Feet are looked for this far outside the dog's box, as a share of it. */
const ABOUT_DOG = 0.4;
/** Marks this near to each other are of one paw, metres. */
const SAME_PAW_M = 0.06;
/** A paw of which less is unchanged has moved. */
const STILL_HELD = 0.5;

interface Kept {
  picture: GreyPicture;
  frame: number;
  timeS: number;
  look: FrameLook | null;
}

/**
 * Keeps grey pictures of the ground about the row, frame by frame, and has them read by the motion witness.
 * Null where the row's ground cannot be cut out of the picture.
 */
export function createGroundStrip(map: GroundMap, size: { widthPx: number; heightPx: number }) {
  const box = rowRegion(map, size, { beforeM: BEYOND_M, afterM: BEYOND_M, aboveM: ABOVE_M }).box;
  if (!box || box.width < 40 || box.height < 10) return null;
  const region: Region = box;
  const scale = Math.min(1, WIDEST_PX / region.width);
  const width = Math.round(region.width * scale);
  const height = Math.max(4, Math.round(region.height * scale));
  const pxPerM = scaleAlongRow(map) * scale;
  const inStrip = (p: ImagePoint) => ({ x: (p.x - region.x) * scale, y: (p.y - region.y) * scale });
  const inPicture = (p: ImagePoint) => ({ x: region.x + p.x / scale, y: region.y + p.y / scale });
  const found: GroundMotion = { feet: [], held: new Map(), readings: new Map() };
  let kept: Kept[] = [];
  /** How many of them, the first ones, have been read and stay for those after them. */
  let known = 0;
  let sceneBefore: GreyPicture[] = [];

  /** Reads what is kept, all of it or up to a moment before its end. */
  const read = (all: boolean) => {
    const pictures = kept.map((k) => k.picture);
    const motion = readMotion(pictures, { pxPerM, timesS: kept.map((k) => k.timeS), sceneBefore });
    const end = all ? kept.length : Math.max(known, kept.length - CONTEXT);
    const looked = kept.flatMap((k, s) => (k.look ? [s] : []));
    kept.slice(0, end).forEach(({ frame, timeS }, s) => {
      if (s < known) return;
      // Only where a dog is in sight: handlers, shadows and leaves stand still too.
      const dog = dogAbout(looked, s);
      if (!dog) return;
      for (const foot of motion.feet(s, dog.fromX, dog.toX)) {
        found.feet.push({
          frame,
          timeS,
          at: inPicture(foot),
          score: foot.score,
        });
      }
    });
    looked.forEach((s) => {
      if (s < known || s >= end) return;
      const peaks = kept[s]!.look!.sighting?.peaks ?? [];
      const places = peaks.map(inStrip);
      motion.places(s, places).forEach((reading, i) => {
        if (!reading) return;
        found.readings.set(peaks[i]!, reading);
        found.held.set(peaks[i]!, [
          ...heldAt(motion, peaks[i]!, places[i]!, s, -1),
          ...heldAt(motion, peaks[i]!, places[i]!, s, 1),
        ]);
      });
    });
    sceneBefore = spread([...sceneBefore, ...pictures], SCENE_BEFORE);
    kept = kept.slice(Math.max(0, end - CONTEXT));
    known = Math.min(end, CONTEXT);
  };

  /** The frames before or after strip `from` in which a paw has not moved, up to a look that marks it itself. */
  function heldAt(
    motion: ReturnType<typeof readMotion>,
    peak: PawPeak,
    place: ImagePoint,
    from: number,
    step: -1 | 1,
  ): HeldPaw[] {
    const paws: HeldPaw[] = [];
    const marksIt = (look: FrameLook | null) =>
      look?.sighting?.peaks.some((p) => {
        const there = inStrip(p);
        return Math.hypot(there.x - place.x, there.y - place.y) < SAME_PAW_M * pxPerM;
      });
    for (let t = from + step; t >= 0 && t < kept.length; t += step) {
      if (marksIt(kept[t]!.look)) break;
      const held = motion.held(from, t, place);
      if (held < STILL_HELD) break;
      paws.push({ frame: kept[t]!.frame, timeS: kept[t]!.timeS, peak, held });
    }
    return paws;
  }

  /** Columns of the strip about the dog, where a look next to this one saw paws. */
  function dogAbout(looked: number[], s: number): { fromX: number; toX: number } | null {
    const after = looked.findIndex((l) => l >= s);
    const near = after < 0 ? [looked.at(-1)] : [looked[after - 1], looked[after]];
    const sightings = near.flatMap((l) => (l === undefined ? [] : (kept[l]!.look?.sighting ?? [])));
    if (!sightings.some(({ peaks }) => peaks.length > 0)) return null;
    const edges = sightings.flatMap(({ box }) => [
      box.x - ABOUT_DOG * box.width,
      box.x + (1 + ABOUT_DOG) * box.width,
    ]);
    const column = (x: number) => (x - region.x) * scale;
    return { fromX: column(Math.min(...edges)), toX: column(Math.max(...edges)) };
  }

  return {
    /** The part of the picture that is kept. */
    region,
    /** @param at The look at this frame, whose sighting may still come, or only the frame's place. */
    add(frame: ClipFrame, at: FrameLook | { frame: number; timeS: number }): void {
      const picture = { data: frame.grey(region, width, height), width, height };
      kept.push({ picture, frame: at.frame, timeS: at.timeS, look: "sighting" in at ? at : null });
    },
    /** Whether strips must be read, and so let go, before more are added. */
    isFull: () => kept.length >= MOST_STRIPS,
    /** Reads strips whose looks have been made. */
    read: () => read(false),
    /** Everything that stood still, and what motion says of each paw mark; call once, at the end. */
    finish(): GroundMotion {
      read(true);
      return found;
    },
  };
}

/** So many of a list, evenly spread over it. */
function spread<T>(list: T[], most: number): T[] {
  if (list.length <= most) return list;
  return Array.from({ length: most }, (_, k) => list[Math.floor(((k + 0.5) * list.length) / most)]!);
}

/** Pixels of the picture per metre along the row, at its middle. */
function scaleAlongRow(map: GroundMap): number {
  const first = map.poleXM[0] ?? 0;
  const last = map.poleXM.at(-1) ?? 1;
  const g = map.groundToImage;
  const at = (x: number) => {
    const w = g[6] * x + g[7] * (map.poleLengthM / 2) + g[8];
    return {
      x: (g[0] * x + g[1] * (map.poleLengthM / 2) + g[2]) / w,
      y: (g[3] * x + g[4] * (map.poleLengthM / 2) + g[5]) / w,
    };
  };
  const [a, b] = [at(first), at(last)];
  return Math.hypot(b.x - a.x, b.y - a.y) / Math.max(0.1, last - first);
}
