import type { Matrix3 } from "../stats/types.ts";
import { planeToImage } from "./camera.ts";
import {
  type CameraFit,
  cameraOf,
  covarianceOf,
  fitCamera,
  mirrored,
  type Priors,
  phonePriors,
  type Sighting,
  startsFor,
  type Unknowns,
} from "./camera-fit.ts";
import { invert3, scaledToLast } from "./homography.ts";
import { groundStandardError, imageToGround } from "./map.ts";
import { ASSUMED_POLE_LENGTH_M, type CheckedMarks, checkMarks, type Frame, spoken } from "./marks.ts";
import type { GroundFit, GroundMap, GroundProblem, PoleMarks, PoleResidual } from "./types.ts";

/** Standard deviation of a careful tap under a loupe as a share of the long side (1.5 px at 1920). Common practice. */
const TAP_SD_SHARE = 1.5 / 1920;
/** How many residuals that expectation is worth against those seen. */
const TAP_SD_WEIGHT = 4;
const SMALLEST_TAP_SD_PX = 0.5;
/** A pole is pointed at when it is off by more than this ... */
const SUSPECT_M = 0.02;
const SUSPECT_SHARE_OF_GAP = 0.03;
/** ... and by more standard errors than chance would give in a few hundred rows. */
const SUSPECT_SE = 3.5;
/** Where one landing cannot be placed better than this, the map is called rough. Metres. */
const ROUGH_SE_M = 0.03;
/** Taps that miss by this many times what a hand does are not a hand's misses. */
const AT_ODDS = 4;
/**
 * A map that rests on a dog's height is so loosely held that first order understates its error: its variance is widened
 * by this much, with which 95 of 100 landings lie in their intervals (see the bench).
 */
const UPRIGHT_WIDER = 1.8;
/** Radial distortion is believed when it lowers the misfit by more than chance does in one of a thousand (χ², 1 df). */
const LENS_EVIDENCE = 10.8;

/**
 * The map between the reference picture and the ground from the marked poles.
 *
 * All taps are explained at once by one pinhole camera over the ground (square pixels; focal length, principal
 * point, pole length and roll held loosely to what phones and poles are like, so that few taps still give a map),
 * least squares on the picture. Taps at `poleHeightM` are drawn at that height. Starts come from a normalised
 * direct linear transform and a fan of viewing directions. A pole far from where the others put it is reported,
 * and left out of the map while enough others remain.
 */
export function fitGround(marks: PoleMarks, frame: Frame): GroundFit {
  const checked = checkMarks(marks, frame);
  const problems = [...checked.problems];
  if (problems.some((p) => !p.usable)) return { map: null, residuals: [], problems };

  const sightings = sightingsOf(marks, checked);
  const priors = priorsFor(marks, checked, frame);
  const expectedSd = TAP_SD_SHARE * Math.max(frame.widthPx, frame.heightPx);
  const whole = fitWithOwnNoise(sightings, priors, expectedSd, startsFor(sightings, priors));
  if (!whole) {
    problems.push(noCamera());
    return { map: null, residuals: [], problems };
  }

  const doubt = searchDoubt(whole, sightings, priors, expectedSd, checked, marks);
  if (doubt.problem) problems.push(doubt.problem);
  const kept = sightings.filter((s) => !doubt.leftOut.includes(s.pole));
  const firm = doubt.leftOut.length
    ? (fitWithOwnNoise(kept, priors, expectedSd, [whole.fit.unknowns]) ?? whole)
    : whole;
  const bent = withLens(firm, kept, priors, expectedSd, checked.kind);
  const map = mapOf(bent, checked, marks.poleHeightM);
  if (!map) {
    problems.push(noCamera());
    return { map: null, residuals: [], problems };
  }
  const residuals = residualsOf(map, marks, checked, doubt.suspects);
  problems.push(...shapeProblems(map, residuals, checked, bent.fit.unknowns));
  if (bent.tapSdPx > AT_ODDS * expectedSd && !problems.some((p) => p.kind === "pole-off"))
    problems.push(atOdds(residuals));
  return { map, residuals, problems };
}

interface NoisyFit {
  fit: CameraFit;
  tapSdPx: number;
  /** Degrees of freedom behind tapSdPx. */
  freedom: number;
}

function sightingsOf(marks: PoleMarks, checked: CheckedMarks): Sighting[] {
  const z = marks.poleHeightM ?? 0;
  const taps = checked.poles.flatMap((pole, k) => {
    const x = checked.mirror * checked.poleXM[k]!;
    const ends: Sighting[] = [];
    if (pole.near) ends.push({ pole: k, image: pole.near, x, lengths: 0, z });
    if (pole.far) ends.push({ pole: k, image: pole.far, x, lengths: 1, z });
    return ends;
  });
  if (!marks.upright) return taps;
  const stand = { pole: -1, x: 0, lengths: 0, upright: true };
  return [
    ...taps,
    { ...stand, image: marks.upright.foot, z: 0 },
    { ...stand, image: marks.upright.top, z: marks.upright.heightM },
  ];
}

function priorsFor(marks: PoleMarks, checked: CheckedMarks, frame: Frame): Priors {
  const middle = (checked.mirror * checked.poleXM.at(-1)!) / 2;
  const known = marks.poleLengthM !== undefined && marks.poleLengthM > 0;
  const length = known ? { mean: marks.poleLengthM!, sd: 0.01 } : { mean: ASSUMED_POLE_LENGTH_M, sd: 0.3 };
  const priors = phonePriors(frame, middle, length);
  if (!marks.upright) return priors;
  return {
    ...priors,
    uprightX: { mean: middle, sd: 2 },
    uprightY: { mean: length.mean / 2, sd: 0.25 * length.mean },
  };
}

/** Weighs the taps by the noise that their own residuals show, tempered by the noise one expects. */
function fitWithOwnNoise(
  sightings: readonly Sighting[],
  priors: Priors,
  expectedSd: number,
  starts: readonly Unknowns[],
): NoisyFit | null {
  let tapSdPx = Math.max(expectedSd, SMALLEST_TAP_SD_PX);
  let freedom = TAP_SD_WEIGHT;
  let fit = fitCamera(sightings, priors, tapSdPx, starts);
  for (let round = 0; fit && round < 3; round++) {
    const before = tapSdPx;
    const squares = fit.tapChiSquare * tapSdPx ** 2;
    const spare = Math.max(0, 2 * sightings.length - fit.decided);
    freedom = TAP_SD_WEIGHT + spare;
    const seen = Math.sqrt((TAP_SD_WEIGHT * expectedSd ** 2 + squares) / freedom);
    tapSdPx = Math.max(seen, SMALLEST_TAP_SD_PX);
    if (Math.abs(tapSdPx - before) < 0.02 * before) break;
    fit = fitCamera(sightings, priors, tapSdPx, [fit.unknowns]);
  }
  return fit && { fit, tapSdPx, freedom };
}

function mapOf(
  { fit, tapSdPx, freedom }: NoisyFit,
  checked: CheckedMarks,
  poleHeightM?: number | undefined,
): GroundMap | null {
  const mirror = checked.mirror;
  const toImage = (u: Unknowns) => mirrored(planeToImage(cameraOf(u)), mirror);
  const groundToImage = scaledToLast(toImage(fit.unknowns));
  const imageToGround = invert3(groundToImage);
  if (![...groundToImage, ...imageToGround].every(Number.isFinite)) return null;
  const entries = (u: Unknowns) => invert3(toImage(u)).slice(0, 8);
  // The noise itself is an estimate: a Student's distribution, whose variance is wider by ν/(ν − 2).
  const covariance = covarianceOf(fit, entries)
    .mul((freedom / (freedom - 2)) * (checked.upright ? UPRIGHT_WIDER : 1))
    .to1DArray();
  const u = fit.unknowns;
  const camera = cameraOf(u);
  return {
    kind: checked.kind,
    imageToGround,
    groundToImage,
    poleXM: checked.poleXM,
    poleLengthM: Math.exp(u.logLength),
    ...(poleHeightM && { poleHeightM }),
    camera: { xM: mirror * u.x, yM: u.y, heightM: camera.height },
    tapSdPx,
    covariance: covariance.every(Number.isFinite) ? covariance : null,
    ...(u.radial !== 0 && {
      lens: { k1: u.radial, focalPx: camera.focalPx, centreX: u.centreX, centreY: u.centreY },
    }),
  };
}

/** Takes radial distortion in where straight rows and poles give evidence of it, and the picture can show it. */
function withLens(
  straight: NoisyFit,
  sightings: readonly Sighting[],
  priors: Priors,
  expectedSd: number,
  kind: GroundMap["kind"],
): NoisyFit {
  if (kind !== "plane" || sightings.length < 8) return straight;
  const free: Priors = { ...priors, radial: { mean: 0, sd: 0.1 } };
  const bent = fitCamera(sightings, free, straight.tapSdPx, [straight.fit.unknowns]);
  if (!bent || straight.fit.cost - bent.cost < LENS_EVIDENCE) return straight;
  return fitWithOwnNoise(sightings, free, expectedSd, [bent.unknowns]) ?? straight;
}

interface Doubt {
  suspects: number[];
  leftOut: number[];
  problem: GroundProblem | null;
}

/**
 * Looks for the one pole, or the one gap, that does not go with the rest: each pole is left out in turn and
 * predicted from the others; each gap in turn is let free.
 */
function searchDoubt(
  whole: NoisyFit,
  sightings: readonly Sighting[],
  priors: Priors,
  expectedSd: number,
  checked: CheckedMarks,
  marks: PoleMarks,
): Doubt {
  const none: Doubt = { suspects: [], leftOut: [], problem: null };
  const tapped = [...new Set(sightings.filter((s) => !s.upright).map((s) => s.pole))];
  if (tapped.length < 4 && !(checked.kind === "plane" && tapped.length === 3)) return none;
  // Taps as consistent as this cannot hold a doubt strong enough to be reported.
  if (whole.tapSdPx < 1.2 * expectedSd) return none;
  const start = [whole.fit.unknowns];

  const poles = tapped.flatMap((pole) => {
    const rest = sightings.filter((s) => s.pole !== pole);
    const fit = fitWithOwnNoise(rest, priors, expectedSd, start);
    const map = fit && mapOf(fit, checked);
    if (!map) return [];
    const offs = sightings
      .filter((s) => s.pole === pole)
      .map((s) => {
        const off = imageToGround(map, s.image, s.z).xM - checked.poleXM[pole]!;
        return { off, se: groundStandardError(map, s.image, map.tapSdPx).xM };
      });
    const off = offs.reduce((sum, o) => sum + o.off, 0) / offs.length;
    const se = Math.sqrt(offs.reduce((sum, o) => sum + o.se ** 2, 0)) / Math.sqrt(offs.length);
    return [{ pole, off, strength: Math.abs(off) / se, ends: offs.length, fit }];
  });
  const worst = poles.reduce<(typeof poles)[number] | null>(
    (a, b) => (a && a.strength >= b.strength ? a : b),
    null,
  );
  if (!worst || worst.strength < SUSPECT_SE || Math.abs(worst.off) < tolerance(marks, worst.pole))
    return none;

  const gaps = tapped.slice(1).flatMap((pole) => {
    const hinged = sightings.map((s) => ({ ...s, beyondGap: !s.upright && s.pole >= pole }));
    const fit = fitWithOwnNoise(hinged, { ...priors, gapChange: { mean: 0, sd: 0.3 } }, expectedSd, start);
    if (!fit) return [];
    return [{ pole, change: checked.mirror * fit.fit.unknowns.gapChange, fit }];
  });
  const bestGap = gaps.reduce<(typeof gaps)[number] | null>(
    (a, b) => (a && a.fit.tapSdPx <= b.fit.tapSdPx ? a : b),
    null,
  );

  const where = worst.off > 0 ? "towards the last pole" : "towards the first pole";
  const gap = bestGap && gapSentence(bestGap.pole, bestGap.change, marks);
  const atTheEnd = worst.pole === tapped[0] || worst.pole === tapped.at(-1);
  // Leaving a pole out frees all its coordinates, a gap only one: it must explain the taps as well all the same.
  if (bestGap && gap && bestGap.fit.tapSdPx < worst.fit.tapSdPx * (atTheEnd ? 1.1 : 1))
    return {
      suspects: [bestGap.pole - 1, bestGap.pole],
      leftOut: [],
      problem: {
        kind: "pole-off",
        usable: true,
        poles: [bestGap.pole - 1, bestGap.pole],
        sentence: `${gap} Measure it again, or tap poles ${bestGap.pole} and ${bestGap.pole + 1} again.`,
      },
    };
  const remaining = tapped.filter((k) => k !== worst.pole);
  const enough = remaining.length >= 3;
  const [before, after] = [marks.gapsM[worst.pole - 1], marks.gapsM[worst.pole]];
  const doubtedGap = before ?? after ?? 0;
  return {
    suspects: [worst.pole],
    leftOut: enough ? [worst.pole] : [],
    problem: {
      kind: "pole-off",
      usable: true,
      poles: [worst.pole],
      sentence: `Pole ${worst.pole + 1} lies ${spoken(Math.abs(worst.off))} ${where} from where the other poles put it: tap pole ${worst.pole + 1} again, or is the gap ${before ? "before" : "after"} it not ${spoken(doubtedGap)}?${enough ? " Until then the map leaves it out." : ""}`,
    },
  };
}

function tolerance(marks: PoleMarks, pole: number): number {
  const gap = marks.gapsM[pole - 1] ?? marks.gapsM[pole] ?? 0;
  return Math.max(SUSPECT_M, SUSPECT_SHARE_OF_GAP * gap);
}

function gapSentence(pole: number, change: number, marks: PoleMarks): string | null {
  const given = marks.gapsM[pole - 1]!;
  if (Math.abs(change) < Math.max(SUSPECT_M, SUSPECT_SHARE_OF_GAP * given) || given + change <= 0)
    return null;
  return `The gap from pole ${pole} to pole ${pole + 1} looks like ${spoken(given + change)}, not ${spoken(given)}.`;
}

function residualsOf(
  map: GroundMap,
  marks: PoleMarks,
  checked: CheckedMarks,
  suspects: readonly number[],
): PoleResidual[] {
  const height = marks.poleHeightM ?? 0;
  return checked.poles.flatMap((pole, k) => {
    const ends = [pole.near, pole.far].filter((p) => p !== undefined);
    if (ends.length === 0) return [];
    const places = ends.map((p) => imageToGround(map, p, height));
    const [near, far] = places;
    return [
      {
        pole: k,
        alongM: places.reduce((sum, g) => sum + g.xM, 0) / places.length - checked.poleXM[k]!,
        acrossM: near && far ? far.yM - near.yM - map.poleLengthM : null,
        suspect: suspects.includes(k),
      },
    ];
  });
}

/** What the finished map says about how the clip was filmed and tapped. */
function shapeProblems(
  map: GroundMap,
  residuals: readonly PoleResidual[],
  checked: CheckedMarks,
  u: Unknowns,
): GroundProblem[] {
  const problems: GroundProblem[] = [];
  const middle = { xM: (map.poleXM.at(-1) ?? 0) / 2, yM: map.poleLengthM / 2 };
  const seen = imageOf(map.groundToImage, middle.xM, middle.yM);
  const se = groundStandardError(map, seen).xM;
  const azimuth = Math.abs(Math.atan2(middle.xM - map.camera!.xM, middle.yM - map.camera!.yM));
  if (azimuth > (60 * Math.PI) / 180)
    problems.push({
      kind: "rough",
      usable: true,
      poles: [],
      sentence: `The camera looks along the row, ${Math.round((azimuth * 180) / Math.PI)}° off square: places along it are rough. Film from the side next time.`,
    });
  else if (!(se < ROUGH_SE_M) && checked.kind === "plane")
    problems.push({
      kind: "rough",
      usable: true,
      poles: [],
      sentence: `These taps place a paw to no better than ${Number.isFinite(se) ? `± ${Math.round(196 * se)} cm` : "a guess"} in the middle of the row: tap more poles, and as exactly as you can.`,
    });
  if (Math.exp(u.logHeight) < 0.15)
    problems.push({
      kind: "degenerate",
      usable: true,
      poles: [],
      sentence:
        "The camera was almost on the ground, so near and far ends fall together: hold it at hip to knee height next time.",
    });
  const skew = residuals.filter(
    (r) => r.acrossM !== null && Math.abs(r.acrossM) > Math.max(0.1, 0.15 * map.poleLengthM),
  );
  if (skew.length > 0)
    problems.push({
      kind: "pole-off",
      usable: true,
      poles: skew.map((r) => r.pole),
      sentence: `${skew.map((r) => `Pole ${r.pole + 1}`).join(" and ")} ${skew.length > 1 ? "seem" : "seems"} longer or shorter than the others: tap both ends again, on the ground the paws walk on.`,
    });
  return problems;
}

function imageOf(groundToImage: Matrix3, x: number, y: number) {
  const w = groundToImage[6] * x + groundToImage[7] * y + groundToImage[8];
  return {
    x: (groundToImage[0] * x + groundToImage[1] * y + groundToImage[2]) / w,
    y: (groundToImage[3] * x + groundToImage[4] * y + groundToImage[5]) / w,
  };
}

/** No one pole or gap is to blame: some taps lie on the ground and some on raised poles, or several numbers are wrong. */
function atOdds(residuals: readonly PoleResidual[]): GroundProblem {
  const worst = Math.max(...residuals.flatMap((r) => [Math.abs(r.alongM), Math.abs(r.acrossM ?? 0)]));
  return {
    kind: "rough",
    usable: true,
    poles: [],
    sentence: `The marked ends do not go together: they are off by up to ${spoken(worst)}. Tap all of them at one height, on the ground or on the poles' middle, and check the distances; until then places are rough.`,
  };
}

function noCamera(): GroundProblem {
  return {
    kind: "degenerate",
    usable: false,
    poles: [],
    sentence:
      "No camera could have seen the poles at these places: check that each pole is tapped at its own ends, in the order of the row, and that the distances are right.",
  };
}
