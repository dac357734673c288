import { spawnSync } from "node:child_process";
import { existsSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { root } from "../../../src/command/prepare.mjs";
import type { Picture } from "../../../src/ground/picture.ts";
import { restOfRow, type WholePole } from "../../../src/ground/rest-of-row.ts";
import { alignToPole, snapToPole } from "../../../src/ground/snap.ts";
import { suggestPoles } from "../../../src/ground/suggest.ts";
import type { ImagePoint, PoleTap } from "../../../src/ground/types.ts";
import { normalFrom, randomFrom } from "../../unit/ground-scene.ts";
import { readTruth } from "../landings/path.ts";

export interface PictureRates {
  pictures: number;
  poles: number;
  /** Share of the poles that a whole-picture search finds, and poles that it misplaces or invents. */
  whole: { hitRate: number; wrong: number };
  /** The rest of the row, two neighbours being tapped. */
  rest: { hitRate: number; wrong: number; rowsComplete: number };
  /** Distances across the pole of taps from its middle line, 1920 px wide: drawn onto it, and as the finger left them. */
  aligned: { medianPx: number; p95Px: number; fingerPx: number; left: number };
}

/**
 * A pole counts as found when both ends lie this near its true line, pixels of a picture 1920 wide, and this near the
 * true end along it, as a share of its length: along it, a miss hardly moves a place along the row.
 */
const FOUND_PX = 10;
const FOUND_SHARE = 0.15;
/** How far a finger under the loupe may miss (two standard deviations), pixels of a picture 1920 wide. */
const FINGER_PX = 5;

/** Poles suggested and taps snapped on frames of rendered clips: the repository's and those in `folder`, if there is one. */
export function measurePictures(folder: string | null): PictureRates | null {
  if (spawnSync("ffmpeg", ["-version"]).status !== 0) return null;
  const folders = [join(root, "fixtures/clips"), ...(folder ? [folder] : [])];
  const rates: PictureRates = {
    pictures: 0,
    poles: 0,
    whole: { hitRate: 0, wrong: 0 },
    rest: { hitRate: 0, wrong: 0, rowsComplete: 0 },
    aligned: { medianPx: 0, p95Px: 0, fingerPx: 0, left: 0 },
  };
  let asked = 0;
  const [misses, fingers]: [number[], number[]] = [[], []];
  for (const where of folders)
    for (const name of readdirSync(where).filter((f) => f.endsWith(".mp4"))) {
      if (!existsSync(join(where, name.replace(".mp4", ".json")))) continue;
      const truth = readTruth(where, name);
      const size = (truth as unknown as { picture: { widthPx: number; heightPx: number } }).picture;
      const picture = frameOf(join(where, name), truth.marks.timeS, size.widthPx, size.heightPx);
      const poles = truth.marks.poles as WholePole[];
      const scale = 1920 / Math.max(size.widthPx, size.heightPx);
      const hits = (found: readonly PoleTap[]) =>
        poles.filter((t) => found.some((f) => isAt(t, "near", f.near, scale) && isAt(t, "far", f.far, scale)))
          .length;

      rates.pictures++;
      rates.poles += poles.length;
      const whole = suggestPoles(picture);
      const shown = whole.confidence >= 0.5 ? whole.poles : [];
      rates.whole.hitRate += hits(shown);
      rates.whole.wrong += shown.length - hits(shown);

      if (poles.length > 2) {
        const normal = normalFrom(randomFrom(rates.pictures));
        const tap = (p: ImagePoint) => {
          const noisy = {
            x: p.x + (FINGER_PX / scale / 2) * normal(),
            y: p.y + (FINGER_PX / scale / 2) * normal(),
          };
          return snapToPole(picture, noisy, 12 / scale)?.point ?? noisy;
        };
        const tapped = [0, 1].map((k) => {
          const ends = { near: tap(poles[k]!.near), far: tap(poles[k]!.far) };
          return alignToPole(picture, ends, 14 / scale) ?? ends;
        });
        const rest = restOfRow(picture, tapped, size);
        const found = rest?.poles.filter((p) => !tapped.includes(p)) ?? [];
        const good = hits(found);
        asked += poles.length - 2;
        rates.rest.hitRate += good;
        rates.rest.wrong += found.length - good;
        if (good === poles.length - 2 && found.length === good) rates.rest.rowsComplete++;
        else if (process.env.PAWGAP_VERBOSE)
          console.error(`${name}: ${good} of ${poles.length - 2}, ${found.length - good} wrong`);
        for (const pole of poles) {
          const off = () => (FINGER_PX / scale / 2) * normal();
          const finger = {
            near: { x: pole.near.x + off(), y: pole.near.y + off() },
            far: { x: pole.far.x + off(), y: pole.far.y + off() },
          };
          const drawn = alignToPole(picture, finger, 14 / scale);
          if (!drawn) rates.aligned.left++;
          for (const end of ["near", "far"] as const) {
            misses.push(scale * across(pole, (drawn ?? finger)[end]));
            fingers.push(scale * across(pole, finger[end]));
          }
        }
      }
    }
  rates.whole.hitRate /= rates.poles;
  rates.rest.hitRate /= asked;
  for (const list of [misses, fingers]) list.sort((a, b) => a - b);
  rates.aligned.medianPx = misses[misses.length >> 1]!;
  rates.aligned.p95Px = misses[Math.floor(0.95 * misses.length)]!;
  rates.aligned.fingerPx = fingers[fingers.length >> 1]!;
  return rates;
}

function isAt(pole: WholePole, end: "near" | "far", p: ImagePoint | undefined, scale: number): boolean {
  if (!p) return false;
  const [dx, dy] = [pole.far.x - pole.near.x, pole.far.y - pole.near.y];
  const length = Math.hypot(dx, dy);
  const along = Math.abs(((p.x - pole[end].x) * dx + (p.y - pole[end].y) * dy) / length);
  return scale * across(pole, p) < FOUND_PX && along < FOUND_SHARE * length;
}

/** Distance of a point from the pole's middle line. */
function across({ near, far }: WholePole, p: ImagePoint): number {
  const [dx, dy] = [far.x - near.x, far.y - near.y];
  return Math.abs((p.x - near.x) * dy - (p.y - near.y) * dx) / Math.hypot(dx, dy);
}

function frameOf(clip: string, timeS: number, width: number, height: number): Picture {
  const done = spawnSync(
    "ffmpeg",
    // biome-ignore format: one option a line says nothing
    ["-loglevel", "error", "-ss", String(Math.max(0, timeS - 0.001)), "-i", clip, "-frames:v", "1", "-s", `${width}x${height}`, "-f", "rawvideo", "-pix_fmt", "rgb24", "-"],
    { maxBuffer: 1 << 28 },
  );
  if (done.status !== 0) throw new Error(`No frame of ${clip}: ${done.stderr}`);
  return { data: new Uint8Array(done.stdout), width, height, channels: 3 };
}
