import { existsSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { root } from "../../../src/command/prepare.mjs";
import { fitGround } from "../../../src/ground/fit.ts";
import { groundToImage, imageToGround } from "../../../src/ground/map.ts";
import type { Frame } from "../../../src/ground/marks.ts";
import { restOfRow, type WholePole } from "../../../src/ground/rest-of-row.ts";
import { suggestPoles } from "../../../src/ground/suggest.ts";
import type { ImagePoint, PoleMarks, PoleTap } from "../../../src/ground/types.ts";
import { normalFrom, randomFrom } from "../../unit/ground-scene.ts";
import { readTruth } from "../landings/path.ts";
import { drawnToPole, fingered, frameOf, hasFfmpeg } from "./taps.ts";

export interface PictureRates {
  pictures: number;
  poles: number;
  /** Share of the poles that a whole-picture search finds, and poles that it misplaces or invents. */
  whole: { hitRate: number; wrong: number };
  /** The rest of the row, two neighbours being tapped. */
  rest: { hitRate: number; wrong: number; rowsComplete: number };
  /** The same taps as a finger leaves them, and as the app draws them onto the poles. */
  taps: { finger: TapSummary; drawn: TapSummary };
}

/** Errors of taps, pixels of a picture 1920 wide, and of the map made from them, along the row. */
export interface TapSummary {
  acrossMedianPx: number;
  acrossP95Px: number;
  alongMedianPx: number;
  placeRmsCm: number;
  placeP95Cm: number;
}

interface TapErrors {
  /** Distances from the pole's middle line, and along it, pixels of a picture 1920 wide. */
  acrossPx: number[];
  alongPx: number[];
  /** Errors along the row of places between the poles, mapped from the true picture, metres. */
  placeM: number[];
}

function summaryOf({ acrossPx, alongPx, placeM }: TapErrors): TapSummary {
  const share = (values: readonly number[], of: number) =>
    Number(([...values].sort((a, b) => a - b)[Math.floor(of * values.length)] ?? 0).toFixed(4));
  const rms = Math.sqrt(placeM.reduce((sum, m) => sum + m * m, 0) / Math.max(1, placeM.length));
  return {
    acrossMedianPx: share(acrossPx, 0.5),
    acrossP95Px: share(acrossPx, 0.95),
    alongMedianPx: share(alongPx, 0.5),
    placeRmsCm: Number((100 * rms).toFixed(3)),
    placeP95Cm: share(
      placeM.map((m) => 100 * m),
      0.95,
    ),
  };
}

const noTaps = (): TapErrors => ({ acrossPx: [], alongPx: [], placeM: [] });

/**
 * A pole counts as found when both ends lie this near its true line, pixels of a picture 1920 wide, and this near the
 * true end along it, as a share of its length: along it, a miss hardly moves a place along the row.
 */
const FOUND_PX = 10;
const FOUND_SHARE = 0.15;

/** Poles suggested and taps snapped on frames of rendered clips: the repository's and those in `folder`, if there is one. */
export function measurePictures(folder: string | null): PictureRates | null {
  if (!hasFfmpeg()) return null;
  const folders = [join(root, "fixtures/clips"), ...(folder ? [folder] : [])];
  const taps = { finger: noTaps(), drawn: noTaps() };
  const rates: PictureRates = {
    pictures: 0,
    poles: 0,
    whole: { hitRate: 0, wrong: 0 },
    rest: { hitRate: 0, wrong: 0, rowsComplete: 0 },
    taps: { finger: summaryOf(taps.finger), drawn: summaryOf(taps.drawn) },
  };
  let asked = 0;
  for (const where of folders)
    for (const name of readdirSync(where).filter((f) => f.endsWith(".mp4"))) {
      if (!existsSync(join(where, name.replace(".mp4", ".json")))) continue;
      const truth = readTruth(where, name);
      const size = truth.picture;
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
        const tapped = [poles[0]!, poles[1]!].map((pole) =>
          drawnToPole(picture, fingered(pole, 1 / scale, normal), 1 / scale),
        );
        const rest = restOfRow(picture, tapped, size);
        const found = rest?.poles.filter((p) => !tapped.includes(p)) ?? [];
        const good = hits(found);
        asked += poles.length - 2;
        rates.rest.hitRate += good;
        rates.rest.wrong += found.length - good;
        if (good === poles.length - 2 && found.length === good) rates.rest.rowsComplete++;
        else if (process.env.PAWGAP_VERBOSE)
          console.error(`${name}: ${good} of ${poles.length - 2}, ${found.length - good} wrong`);
        const fingers = poles.map((pole) => fingered(pole, 1 / scale, normal));
        const drawn = fingers.map((pole) => drawnToPole(picture, pole, 1 / scale));
        note(taps.finger, fingers, truth.marks, size, scale);
        note(taps.drawn, drawn, truth.marks, size, scale);
      }
    }
  rates.whole.hitRate /= rates.poles;
  rates.rest.hitRate /= asked;
  rates.taps = { finger: summaryOf(taps.finger), drawn: summaryOf(taps.drawn) };
  return rates;
}

function isAt(pole: WholePole, end: "near" | "far", p: ImagePoint | undefined, scale: number): boolean {
  if (!p) return false;
  const [dx, dy] = [pole.far.x - pole.near.x, pole.far.y - pole.near.y];
  const length = Math.hypot(dx, dy);
  const along = Math.abs(((p.x - pole[end].x) * dx + (p.y - pole[end].y) * dy) / length);
  return scale * across(pole, p) < FOUND_PX && along < FOUND_SHARE * length;
}

/** Sets taps and their map against the truth. */
function note(errors: TapErrors, taps: readonly WholePole[], marks: PoleMarks, frame: Frame, scale: number) {
  taps.forEach((tap, k) => {
    const pole = marks.poles[k] as WholePole;
    for (const end of ["near", "far"] as const) {
      errors.acrossPx.push(scale * across(pole, tap[end]));
      const off = Math.hypot(tap[end].x - pole[end].x, tap[end].y - pole[end].y);
      errors.alongPx.push(scale * Math.sqrt(Math.max(0, off ** 2 - across(pole, tap[end]) ** 2)));
    }
  });
  const [exact, found] = [marks, { ...marks, poles: [...taps] }].map((m) => fitGround(m, frame).map);
  if (!exact || !found) return;
  for (let i = 0; i <= 6; i++)
    for (const share of [0.4, 0.5, 0.6]) {
      const place = { xM: (exact.poleXM.at(-1)! * i) / 6, yM: share * exact.poleLengthM };
      errors.placeM.push(Math.abs(imageToGround(found, groundToImage(exact, place)).xM - place.xM));
    }
}

/** Distance of a point from the pole's middle line. */
function across({ near, far }: WholePole, p: ImagePoint): number {
  const [dx, dy] = [far.x - near.x, far.y - near.y];
  return Math.abs((p.x - near.x) * dy - (p.y - near.y) * dx) / Math.hypot(dx, dy);
}
