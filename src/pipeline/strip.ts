import { rowRegion } from "../ground/map.ts";
import type { GreyPicture, GroundMap, ImagePoint } from "../ground/types.ts";
import type { PawPeak } from "../paws/types.ts";
import type { ClipFrame, Region } from "../video/types.ts";
import { type PlaceReading, readMotion } from "./motion.ts";

/** A foot seen by the motion witness, pixels of the upright full-size picture. */
export interface StillFoot {
  look: number;
  timeS: number;
  at: ImagePoint;
  score: number;
}

/** What motion says of a clip. */
export interface GroundMotion {
  feet: StillFoot[];
  readings: Map<PawPeak, PlaceReading>;
}

/** Widest strip kept, pixels: a paw is still 5 px or more across. */
const WIDEST_PX = 800;
/** Strips kept before they are read and let go: bounds the memory whatever the clip's length. */
const MOST_STRIPS = 600;
/** Ground looked at before the first and after the last pole, and how high above it. */
const BEYOND_M = 1.5;
const ABOVE_M = 0.12;

/**
 * Keeps grey pictures of the ground about the row, frame by frame, and has them read by the motion witness.
 * Null where the row's ground cannot be cut out of the picture.
 */
export function createGroundStrip(map: GroundMap, frame: { widthPx: number; heightPx: number }) {
  const box = rowRegion(map, frame, { beforeM: BEYOND_M, afterM: BEYOND_M, aboveM: ABOVE_M }).box;
  if (!box || box.width < 40 || box.height < 10) return null;
  const region: Region = box;
  const scale = Math.min(1, WIDEST_PX / region.width);
  const width = Math.round(region.width * scale);
  const height = Math.max(4, Math.round(region.height * scale));
  const pxPerM = scaleAlongRow(map) * scale;
  const found: StillFoot[] = [];
  const readings = new Map<PawPeak, PlaceReading>();
  let kept: { picture: GreyPicture; look: number; timeS: number; peaks: PawPeak[] }[] = [];

  const read = () => {
    const motion = readMotion(
      kept.map((k) => k.picture),
      { pxPerM, timesS: kept.map((k) => k.timeS) },
    );
    kept.forEach(({ look, timeS, peaks }, s) => {
      // Only where a dog is in sight: handlers, shadows and leaves stand still too.
      if (peaks.length === 0) return;
      for (const foot of motion.feet(s)) {
        found.push({
          look,
          timeS,
          at: { x: region.x + foot.x / scale, y: region.y + foot.y / scale },
          score: foot.score,
        });
      }
      const places = peaks.map((p) => ({ x: (p.x - region.x) * scale, y: (p.y - region.y) * scale }));
      motion.places(s, places).forEach((reading, i) => {
        if (reading) readings.set(peaks[i]!, reading);
      });
    });
    kept = [];
  };

  return {
    /** @param peaks Paw marks of this frame, upright full-size pixels. */
    add(frame: ClipFrame, look: number, peaks: PawPeak[]): void {
      const picture = { data: frame.grey(region, width, height), width, height };
      kept.push({ picture, look, timeS: frame.timeS, peaks });
      if (kept.length >= MOST_STRIPS) read();
    },
    /** Everything that stood still, and what motion says of each paw mark; call once, at the end. */
    finish(): GroundMotion {
      read();
      return { feet: found, readings };
    },
  };
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
