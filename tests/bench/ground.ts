import { type Camera, project } from "../../src/ground/camera.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { applyHomography, IDENTITY } from "../../src/ground/homography.ts";
import { groundStandardError, placeOnGround, stancePixelSd } from "../../src/ground/map.ts";
import { ASSUMED_PAW, MOVING_CAMERA_SHARE } from "../../src/ground/quality.ts";
import { createRegistrar } from "../../src/ground/registrar.ts";
import { snapToPole } from "../../src/ground/snap.ts";
import { suggestPoles } from "../../src/ground/suggest.ts";
import type { FrameRegistration, GroundMap, PoleMarks } from "../../src/ground/types.ts";
import type { Matrix3 } from "../../src/stats/types.ts";
import { noiseTile, normalFrom, phone, randomFrom, render, type Scene } from "../unit/ground-scene.ts";

/**
 * How true a landing is placed along the row, by simulated cameras: taps with 1.5 px of noise at 1080p, poles laid
 * to 3 mm, paw marks of 3 px spread for a quarter of a second at 60 frames a second, drawn 2 cm above the ground
 * (± 3 mm, or ± 1 cm where said). Hand-held and panning clips are rendered (textured ground, a wall behind, a dog walking through) and go
 * through the real registrar. "rows" and "clips" may be given to say how many of each; the default takes minutes.
 */
export default async function run(args: string[]): Promise<void> {
  const number = (name: string, usual: number) =>
    Number(args.find((a) => a.startsWith(`${name}=`))?.slice(name.length + 1) ?? usual);
  const rows = number("rows", 150);
  const clips = number("clips", 3);

  const results: Record<string, Summary> = {};
  const say = (name: string, errors: Placed[]) => {
    const summary = summarise(errors);
    results[name] = summary;
    console.log(
      `${name.padEnd(44)} n ${String(summary.n).padStart(5)}  mean ${cm(summary.meanCm)}  p95 ${cm(summary.p95Cm)}  bias ${cm(summary.biasCm)}  within 95 % interval ${(100 * summary.coverage).toFixed(1).padStart(5)} %`,
    );
  };

  console.log("error along the row of one landing, cm");
  for (const [name, view] of [
    ["tripod", {}],
    ["tripod, lane known to 3 cm", { laneSdM: 0.03 }],
    ["tripod, paw height ± 1 cm", { pawHeightSdM: ASSUMED_PAW.heightSdM }],
    ["tripod, near ends only", { nearOnly: true }],
  ] as const) {
    const all: Placed[] = [];
    for (const yawDeg of [0, 10, 20, 30]) {
      const errors = [0.3, 0.6, 1, 1.5].flatMap((heightM) =>
        Array.from({ length: rows }, (_, k) =>
          stillRow(yawDeg, heightM, view, 1000 * yawDeg + 10 * heightM + 7 * k),
        ).flat(),
      );
      all.push(...errors);
      say(`${name}, ${yawDeg}° off square`, errors);
    }
    for (const heightM of [0.3, 0.6, 1, 1.5])
      say(
        `${name}, ${heightM} m high`,
        all.filter((e) => e.heightM === heightM),
      );
    say(
      `${name}, up to 20° and from 0.6 m up`,
      all.filter((e) => e.yawDeg <= 20 && e.heightM >= 0.6),
    );
  }

  let movingMs = 0;
  let movingFrames = 0;
  for (const motion of ["hand-held", "pan", "pan and zoom"] as const) {
    const errors: Placed[] = [];
    let worstPx = 0;
    for (let clip = 0; clip < clips; clip++)
      for (const yawDeg of [0, 20]) {
        const filmed = movingClip(motion, yawDeg, 31 * clip + yawDeg);
        errors.push(...filmed.errors);
        worstPx = Math.max(worstPx, filmed.registrationRmsPx);
        movingMs += filmed.ms;
        movingFrames += filmed.frames;
      }
    say(motion, errors);
    console.log(
      `${"".padEnd(44)} registration off by ${worstPx.toFixed(2)} px rms at the row in the worst clip`,
    );
  }

  const suggestion = suggestionRate();
  console.log(
    `poles suggested within 10 px at 1080p: ${(100 * suggestion.hitRate).toFixed(1)} %, wrong ones ${suggestion.wrong}; taps snapped to ${suggestion.snapPx.toFixed(2)} px (median), far end followed to ${suggestion.farPx.toFixed(2)} px`,
  );
  const still = stillCost();
  console.log(
    `processor time a frame (${GREY.width} × ${GREY.height} grey): still camera ${still.frameMs.toFixed(2)} ms, moving camera ${(movingMs / movingFrames).toFixed(1)} ms; one fit of 6 poles ${still.fitMs.toFixed(1)} ms; one picture searched for poles ${suggestion.ms.toFixed(0)} ms`,
  );
  console.log(
    JSON.stringify({
      bench: "ground",
      conditions: results,
      poles: { hitRate: suggestion.hitRate, wrong: suggestion.wrong, snapMedianPx: suggestion.snapPx },
      ms: {
        stillFrame: still.frameMs,
        movingFrame: movingMs / movingFrames,
        fit: still.fitMs,
        suggest: suggestion.ms,
      },
    }),
  );
}

const FULL = { widthPx: 1920, heightPx: 1080 };
const TAP_SD_PX = 1.5;
const LAID_SD_M = 0.003;
const PAW_HEIGHT_M = 0.02;
/** How surely the height of the mark is known where the mark is a point of the paw agreed on, as in rendered clips. */
const KNOWN_PAW_SD_M = 0.003;
const FPS = 60;

interface Placed {
  errorM: number;
  seM: number;
  heightM: number;
  yawDeg: number;
}

interface Summary {
  n: number;
  meanCm: number;
  p95Cm: number;
  biasCm: number;
  /** Share of truths inside the stated 95 % interval. */
  coverage: number;
}

function summarise(errors: readonly Placed[]): Summary {
  const sizes = errors.map((e) => Math.abs(e.errorM)).sort((a, b) => a - b);
  const mean = (values: readonly number[]) => values.reduce((sum, v) => sum + v, 0) / values.length;
  const round = (value: number) => Math.round(1000 * value) / 1000;
  return {
    n: errors.length,
    meanCm: round(100 * mean(sizes)),
    p95Cm: round(100 * sizes[Math.floor(0.95 * sizes.length)]!),
    biasCm: round(100 * mean(errors.map((e) => e.errorM))),
    coverage: round(mean(errors.map((e) => (Math.abs(e.errorM) < 1.96 * e.seM ? 1 : 0)))),
  };
}

function cm(value: number): string {
  return value.toFixed(2).padStart(6);
}

interface Row {
  camera: Camera;
  marks: PoleMarks;
  laidXM: number[];
  lengthM: number;
}

/** A row of four to seven poles filmed by some phone, and the taps on it. */
function someRow(yawDeg: number, heightM: number, nearOnly: boolean, random: () => number): Row {
  const normal = normalFrom(random);
  const poles = 4 + Math.floor(4 * random());
  const gapM = 0.35 + 0.25 * random();
  const lengthM = gapM * (poles - 1);
  const focalPx = (0.72 + 0.3 * random()) * FULL.widthPx;
  const camera = {
    ...phone({
      ...FULL,
      yawDeg,
      heightM,
      focalPx,
      // Far enough back for the row and a step before and after it.
      distanceM: Math.max(2.5, ((lengthM + 0.8) * focalPx) / FULL.widthPx + 0.6),
      rowMiddleM: lengthM / 2,
      depthM: 0.45,
      rollDeg: 1.5 * normal(),
    }),
    centreX: FULL.widthPx / 2 + 15 * normal(),
    centreY: FULL.heightPx / 2 + 15 * normal(),
  };
  const laidXM = Array.from({ length: poles }, (_, k) => k * gapM + LAID_SD_M * normal());
  const tap = (xM: number, yM: number) => {
    const p = project(camera, xM, yM, 0)!;
    return { x: p.x + TAP_SD_PX * normal(), y: p.y + TAP_SD_PX * normal() };
  };
  const marks: PoleMarks = {
    timeS: 0,
    poles: laidXM.map((x) => (nearOnly ? { near: tap(x, 0) } : { near: tap(x, 0), far: tap(x, 0.9) })),
    gapsM: Array.from({ length: poles - 1 }, () => gapM),
    poleLengthM: 0.9,
  };
  return { camera, marks, laidXM, lengthM };
}

interface View {
  nearOnly?: boolean;
  pawHeightSdM?: number;
  /** How surely the dog's way across the row is known; left out: between the pole ends. */
  laneSdM?: number;
}

function stillRow(yawDeg: number, heightM: number, view: View, seed: number): Placed[] {
  const random = randomFrom(Math.round(seed * 97));
  const { camera, marks, lengthM } = someRow(yawDeg, heightM, view.nearOnly ?? false, random);
  const map = fitGround(marks, FULL).map;
  if (!map) return [];
  const frames = Math.round(FPS * ASSUMED_PAW.stanceS);
  return Array.from({ length: 6 }, () =>
    landing(
      map,
      { xM: random() * lengthM, yM: 0.2 + 0.5 * random() },
      Array.from({ length: frames }, () => camera),
      Array.from({ length: frames }, () => IDENTITY),
      0,
      view,
      random,
    ),
  ).map((placed) => ({ ...placed, heightM, yawDeg }));
}

/** One stance: its paw marks in the frames, carried to the reference and the ground, and their mean. */
function landing(
  map: GroundMap,
  truth: { xM: number; yM: number },
  cameras: readonly Camera[],
  toReference: readonly Matrix3[],
  registrationSdPx: number,
  view: View,
  random: () => number,
): { errorM: number; seM: number } {
  const normal = normalFrom(random);
  const pawHeightSdM = view.pawHeightSdM ?? KNOWN_PAW_SD_M;
  const markHeightM = PAW_HEIGHT_M + pawHeightSdM * normal();
  const spreadPx = ASSUMED_PAW.spreadShare * FULL.widthPx;
  // Marks of neighbouring frames share half of their error.
  let [dx, dy] = [normal(), normal()];
  const pixels = cameras.map((camera, k) => {
    dx = 0.5 * dx + Math.sqrt(0.75) * normal();
    dy = 0.5 * dy + Math.sqrt(0.75) * normal();
    const p = project(camera, truth.xM, truth.yM, markHeightM)!;
    return applyHomography(toReference[k]!, { x: p.x + spreadPx * dx, y: p.y + spreadPx * dy });
  });
  const mean = (of: (p: { x: number; y: number }) => number) =>
    pixels.reduce((sum, p) => sum + of(p), 0) / pixels.length;
  const pixel = { x: mean((p) => p.x), y: mean((p) => p.y) };
  const spread = Math.sqrt(mean((p) => (p.x - pixel.x) ** 2 + (p.y - pixel.y) ** 2) / 2);
  const found = placeOnGround(map, pixel, {
    heightM: PAW_HEIGHT_M,
    heightSdM: pawHeightSdM,
    pixelSdPx: stancePixelSd({
      spreadPx: Math.max(spread, spreadPx / 2),
      frames: pixels.length,
      registrationSdPx,
    }),
    lane: view.laneSdM ? { yM: truth.yM + view.laneSdM * normal(), sdM: view.laneSdM } : undefined,
  });
  return { errorM: found.xM - truth.xM, seM: found.xSeM };
}

const GREY = { width: 480, height: 270 };

function sceneOf(row: Row): Scene {
  return {
    ground: noiseTile(1),
    wall: noiseTile(2, 150, 60),
    wallM: 5,
    poles: row.laidXM.map((xM) => ({ xM })),
    poleLengthM: 0.9,
    poleWidthM: 0.04,
  };
}

/** A clip of 40 frames, 30 a second, whose poles were tapped in the frame in its middle. */
function movingClip(motion: "hand-held" | "pan" | "pan and zoom", yawDeg: number, seed: number) {
  const random = randomFrom(seed + 5);
  const normal = normalFrom(random);
  const count = 40;
  const wander = (sd: number) => {
    let value = sd * normal();
    return Array.from({ length: count }, () => {
      value = 0.85 * value + Math.sqrt(1 - 0.85 ** 2) * sd * normal();
      return value;
    });
  };
  const base = someRow(yawDeg, 0.5 + 0.8 * random(), false, random);
  const [yaw, pitch, roll] = [wander(0.006), wander(0.006), wander(0.006)];
  const [x, y, z] = [wander(0.008), wander(0.008), wander(0.008)];
  const cameras = yaw.map((turn, k): Camera => {
    const t = k / (count - 1) - 0.5;
    return {
      ...base.camera,
      yaw: base.camera.yaw + turn + (motion === "hand-held" ? 0 : 0.5 * t),
      pitch: base.camera.pitch + pitch[k]!,
      roll: base.camera.roll + roll[k]!,
      x: base.camera.x + x[k]!,
      y: base.camera.y + y[k]!,
      height: base.camera.height + z[k]!,
      focalPx: base.camera.focalPx * (motion === "pan and zoom" ? 1 + 0.3 * t : 1),
    };
  });
  const reference = cameras[count / 2]!;
  const marks: PoleMarks = {
    ...base.marks,
    poles: base.laidXM.map((xM) => {
      const tap = (yM: number) => {
        const p = project(reference, xM, yM, 0)!;
        return { x: p.x + TAP_SD_PX * normal(), y: p.y + TAP_SD_PX * normal() };
      };
      return { near: tap(0), far: tap(0.9) };
    }),
  };
  const map = fitGround(marks, FULL).map!;

  const scene = sceneOf(base);
  const registrar = createRegistrar({ ...GREY, scale: FULL.widthPx / GREY.width });
  let ms = 0;
  cameras.forEach((camera, k) => {
    const dog = { xM: -0.5 + ((base.lengthM + 1) * k) / count, lengthM: 0.9, heightM: 0.55 };
    const grey = render(camera, GREY.width, GREY.height, FULL.widthPx, { ...scene, dog }, normal);
    const start = processorMs();
    registrar.add(grey, k / 30);
    ms += processorMs() - start;
  });
  const { registrations } = registrar.finish(count / 2 / 30);

  const errors: Placed[] = [];
  const offPx: number[] = [];
  // Stances of eight frames at 30 frames a second all along the clip.
  for (let from = 0; from + 8 <= count; from += 4) {
    const frames = registrations.slice(from, from + 8);
    const seen = cameras.slice(from, from + 8);
    for (let place = 0; place < 3; place++) {
      const truth = { xM: random() * base.lengthM, yM: 0.2 + 0.5 * random() };
      if (!frames.every((f, k) => f.ok && visible(seen[k]!, truth))) continue;
      offPx.push(...misses(frames, seen, truth, reference));
      errors.push({
        ...landing(
          map,
          truth,
          seen,
          frames.map((f) => f.frameToReference),
          MOVING_CAMERA_SHARE * FULL.widthPx,
          {},
          random,
        ),
        heightM: base.camera.height,
        yawDeg,
      });
    }
  }
  const registrationRmsPx = Math.sqrt(offPx.reduce((sum, d) => sum + d * d, 0) / offPx.length);
  return { errors, ms, frames: count, registrationRmsPx };
}

function visible(camera: Camera, place: { xM: number; yM: number }): boolean {
  const p = project(camera, place.xM, place.yM, 0);
  return p !== null && p.x > 0 && p.x < FULL.widthPx && p.y > 0 && p.y < FULL.heightPx;
}

function misses(
  frames: readonly FrameRegistration[],
  cameras: readonly Camera[],
  truth: { xM: number; yM: number },
  reference: Camera,
): number[] {
  const there = project(reference, truth.xM, truth.yM, 0)!;
  return frames.map((f, k) => {
    const p = applyHomography(f.frameToReference, project(cameras[k]!, truth.xM, truth.yM, 0)!);
    return Math.hypot(p.x - there.x, p.y - there.y);
  });
}

function suggestionRate() {
  const normal = normalFrom(randomFrom(77));
  const random = randomFrom(78);
  const [width, height] = [960, 540];
  const scale = FULL.widthPx / width;
  let [hits, all, wrong, ms, pictures] = [0, 0, 0, 0, 0];
  const [snapped, followed]: [number[], number[]] = [[], []];
  for (const yawDeg of [0, 10, 20, 30])
    for (const heightM of [0.3, 0.6, 1, 1.5]) {
      const row = someRow(yawDeg, heightM, false, random);
      const picture = {
        ...render(row.camera, width, height, FULL.widthPx, sceneOf(row), normal),
        channels: 1 as const,
      };
      const start = processorMs();
      const { poles } = suggestPoles(picture);
      ms += processorMs() - start;
      pictures++;
      let good = 0;
      for (const xM of row.laidXM) {
        const [near, far] = [project(row.camera, xM, 0, 0)!, project(row.camera, xM, 0.9, 0)!];
        const miss = (p: { x: number; y: number }, q: { x: number; y: number }) =>
          Math.hypot(p.x * scale - q.x, p.y * scale - q.y);
        all++;
        if (poles.some((p) => miss(p.near!, near) < 10 && miss(p.far!, far) < 10)) good++;
        const tap = { x: near.x / scale + 6 * (random() - 0.5), y: near.y / scale + 6 * (random() - 0.5) };
        const found = snapToPole(picture, tap, 14);
        if (found) {
          snapped.push(miss(found.point, near));
          followed.push(miss(found.otherEnd, far));
        }
      }
      hits += good;
      wrong += poles.length - good;
    }
  const middle = (values: number[]) => values.sort((a, b) => a - b)[values.length >> 1]!;
  return { hitRate: hits / all, wrong, ms: ms / pictures, snapPx: middle(snapped), farPx: middle(followed) };
}

/** Processor time, so that a busy machine does not show. */
function processorMs(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

function stillCost() {
  const random = randomFrom(3);
  const normal = normalFrom(random);
  const row = someRow(10, 0.8, false, random);
  const grey = render(row.camera, GREY.width, GREY.height, FULL.widthPx, sceneOf(row), normal);
  const registrar = createRegistrar({ ...GREY, scale: 4 });
  registrar.add(grey, 0);
  const start = processorMs();
  for (let k = 1; k <= 500; k++) registrar.add(grey, k / 30);
  const frameMs = (processorMs() - start) / 500;
  const before = processorMs();
  for (let k = 0; k < 20; k++) {
    const map = fitGround(row.marks, FULL).map;
    if (map) groundStandardError(map, { x: 960, y: 700 });
  }
  return { frameMs, fitMs: (processorMs() - before) / 20 };
}
