import { resolve } from "node:path";
import { anchorToPoles } from "../../src/ground/anchor.ts";
import { type Camera, project } from "../../src/ground/camera.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { applyHomography, IDENTITY } from "../../src/ground/homography.ts";
import { groundStandardError } from "../../src/ground/map.ts";
import { lookAtPoles } from "../../src/ground/pole-looks.ts";
import { MOVING_CAMERA_SHARE } from "../../src/ground/quality.ts";
import { createRegistrar } from "../../src/ground/registrar.ts";
import { snapToPole } from "../../src/ground/snap.ts";
import { suggestPoles } from "../../src/ground/suggest.ts";
import type { FrameRegistration, GreyPicture, PoleMarks } from "../../src/ground/types.ts";
import { noiseTile, normalFrom, randomFrom, render, type Scene } from "../unit/ground-scene.ts";
import { leastLandingSd } from "./ground/bound.ts";
import {
  FPS,
  FULL,
  landing,
  PLAIN_MARK,
  type Placed,
  type Row,
  someRow,
  TAP_SD_PX,
  type View,
} from "./ground/cameras.ts";
import { measureClips } from "./ground/clips.ts";
import { leftOut } from "./ground/left-out.ts";
import { passBefore } from "./ground/passes.ts";
import { measurePictures } from "./ground/pictures.ts";
import { SESSION_VIEWS, sessionsBefore } from "./ground/sessions.ts";
import { VERDICT_CONDITIONS, verdictsUnder } from "./ground/verdicts.ts";

/**
 * How true the ground under the paws is: `npm run bench -- ground [rows=40] [passes=40] [clips=2] [sessions=56] [stills=…]
 * [rendered=FOLDER] [only=NAME,…]`.
 *
 * The usual sizes take some minutes; `rows=150 clips=3 sessions=140` is the long run.
 *
 * 1. Simulated tripods: taps with 1.5 px of noise at 1080p, poles laid to 3 mm, paw marks of 3 px spread for a quarter of
 *    a second at 60 frames a second, drawn 2 cm above the ground (± 3 mm, or ± 8 mm where said); `rows` of each view.
 *    Beside it the bound: what no unbiased estimator can beat. Then `passes` whole passes of each view by the app's own
 *    code, from marks and pads in pixels to landings: with taps as a hand leaves them, and as the app draws them to the poles; the
 *    pads as far off as those of rendered clips are (`PADS_DIFFER`).
 * 2. Hand-held, panning and zooming clips of a textured scene with a dog, through the real registrar; `clips` of each.
 * 3. Verdicts of random sessions seen by random cameras; `sessions` of each condition. Then verdicts of half as many
 *    sessions of whole passes, by the app's own code from marks in pixels on.
 * 4. Poles suggested and taps snapped, in simulated pictures and (where a native ffmpeg is) frames of rendered clips;
 *    `stills=0` leaves those out. What a homography a frame cannot follow: rolling shutter, the lens.
 * 5. With `rendered=FOLDER`: the studio's clips of `ground/plans.ts` through the whole path. Clips that the folder
 *    lacks are rendered first, minutes each. Without it this part is left out.
 */
export default async function run(args: string[]): Promise<void> {
  const given = (name: string) => args.find((a) => a.startsWith(`${name}=`))?.slice(name.length + 1);
  const number = (name: string, usual: number) => Number(given(name) ?? usual);

  const results: Record<string, Summary> = {};
  const say = (name: string, errors: Placed[], bound?: number) => {
    const summary = {
      ...summarise(errors),
      ...(bound !== undefined && { boundP95Cm: round(100 * bound, 2) }),
    };
    results[name] = summary;
    console.log(
      `${name.padEnd(44)} n ${String(summary.n).padStart(5)}  mean ${cm(summary.meanCm)}  p95 ${cm(summary.p95Cm)}  bias ${cm(summary.biasCm)}  within 95 % interval ${(100 * summary.coverage).toFixed(1).padStart(5)} %${bound === undefined ? "" : `  bound on p95 ${cm(100 * bound)}`}`,
    );
  };

  console.log("error along the row of one landing, cm");
  tripods(number("rows", 40), say);
  wholePasses(number("passes", 40), say);
  const moving = movingCameras(number("clips", 2), say);
  const verdicts = verdictTable(number("sessions", 56));
  const sessions = sessionTable(Math.ceil(number("sessions", 56) / 2));
  const suggestion = suggestionRate();
  console.log(
    `poles suggested within 10 px at 1080p: ${(100 * suggestion.hitRate).toFixed(1)} %, wrong ones ${suggestion.wrong}; taps snapped to ${suggestion.snapPx.toFixed(2)} px across the pole (median), far end followed to ${suggestion.farPx.toFixed(2)} px`,
  );
  const pictures = given("stills") === "0" ? null : measurePictures(given("rendered") ?? null);
  if (pictures) {
    console.log(
      `${pictures.pictures} rendered frames: rest of the row from two tapped poles ${(100 * pictures.rest.hitRate).toFixed(1)} % (${pictures.rest.rowsComplete} rows complete, wrong ${pictures.rest.wrong}); whole rows without a tap ${(100 * pictures.whole.hitRate).toFixed(1)} %, wrong ${pictures.whole.wrong}`,
    );
    for (const [name, t] of Object.entries(pictures.taps))
      console.log(
        `taps ${name === "drawn" ? "as the app draws them" : "as a finger leaves them"}: ${t.acrossMedianPx} px across the pole (median; 95 %: ${t.acrossP95Px}), ${t.alongMedianPx} px along it (1920 px wide); their map is off by ${t.placeRmsCm} cm along the row (rms; 95 %: ${t.placeP95Cm})`,
      );
  }
  const notFollowed = leftOut();
  console.log(
    `left out by following with one homography a frame, cm along the row (rms, largest): ${Object.entries(
      notFollowed,
    )
      .map(([name, e]) => `${name} ${e.rmsCm}, ${e.largestCm}`)
      .join("; ")}`,
  );
  const rendered = given("rendered")
    ? await renderedClips(resolve(given("rendered")!), given("only")?.split(",") ?? [])
    : null;
  const still = stillCost();
  console.log(
    `processor time a frame (${GREY.width} × ${GREY.height} grey): still camera ${still.frameMs.toFixed(2)} ms, moving camera ${moving.frameMs.toFixed(1)} ms, poles looked at ${moving.lookMs.toFixed(1)} ms a look (ten a second); one fit of 6 poles ${still.fitMs.toFixed(1)} ms; one picture searched for poles ${suggestion.ms.toFixed(0)} ms`,
  );
  console.log(
    JSON.stringify({
      bench: "ground",
      conditions: results,
      verdicts,
      sessions,
      rendered,
      pictures,
      leftOut: notFollowed,
      poles: { hitRate: suggestion.hitRate, wrong: suggestion.wrong, snapMedianPx: suggestion.snapPx },
      ms: {
        stillFrame: still.frameMs,
        movingFrame: moving.frameMs,
        poleLook: moving.lookMs,
        fit: still.fitMs,
        suggest: suggestion.ms,
      },
    }),
  );
}

type Say = (name: string, errors: Placed[], boundM?: number) => void;

const KINDS: [string, View][] = [
  ["tripod", {}],
  ["tripod, lane known to 3 cm", { laneSdM: 0.03 }],
  ["tripod, paw height ± 8 mm", { pawHeightSdM: PLAIN_MARK.heightSdM }],
  ["tripod, near ends only", { nearOnly: true }],
  ["tripod, two poles and the withers", { upright: true }],
];

function tripods(rows: number, say: Say): void {
  for (const [name, view] of KINDS) {
    const all: Placed[] = [];
    for (const yawDeg of [0, 10, 20, 30]) {
      for (const heightM of [0.3, 0.6, 1, 1.5])
        all.push(
          ...Array.from({ length: rows }, (_, k) =>
            stillRow(yawDeg, heightM, view, 1000 * yawDeg + 10 * heightM + 7 * k),
          ).flat(),
        );
      const here = all.filter((e) => e.yawDeg === yawDeg);
      say(`${name}, ${yawDeg}° off square`, here, boundOf(here));
    }
    for (const heightM of [0.3, 0.6, 1, 1.5]) {
      const here = all.filter((e) => e.heightM === heightM && e.yawDeg <= 20);
      say(`${name}, ${heightM} m high, up to 20°`, here, boundOf(here));
    }
    const good = all.filter((e) => e.yawDeg <= 20 && e.heightM >= 0.6);
    say(`${name}, up to 20° and from 0.6 m up`, good, boundOf(good));
    const grid = all.filter((e) => e.yawDeg <= 20);
    say(`${name}, up to 20°, whole grid`, grid, boundOf(grid));
  }
}

/** Whole passes by the app's own code, from marks in pixels to landings on their tracks, in front of a tripod. */
function wholePasses(passes: number, say: Say): void {
  for (const drawn of [true, false]) {
    const name = `whole pass, ${drawn ? "taps drawn to the poles" : "taps as a hand leaves them"}`;
    const all: Placed[] = [];
    let asked = 0;
    for (const yawDeg of [0, 10, 20, 30]) {
      for (const heightM of [0.3, 0.6, 1, 1.5])
        for (let k = 0; k < passes; k++) {
          const pass = passBefore(yawDeg, heightM, drawn, 1000 * yawDeg + 10 * heightM + 7 * k);
          all.push(...pass.errors);
          asked += pass.asked;
        }
      say(
        `${name}, ${yawDeg}° off square`,
        all.filter((e) => e.yawDeg === yawDeg),
      );
    }
    const grid = all.filter((e) => e.yawDeg <= 20);
    for (const heightM of [0.3, 0.6, 1, 1.5])
      say(
        `${name}, ${heightM} m high, up to 20°`,
        grid.filter((e) => e.heightM === heightM),
      );
    say(`${name}, up to 20°, whole grid`, grid);
    console.log(`${"".padEnd(44)} found ${all.length} of ${asked} hind landings between the poles`);
  }
}

/** 95th percentile of errors as small as the bound allows; undefined where it was not reckoned. */
function boundOf(errors: readonly Placed[]): number | undefined {
  const normal = normalFrom(randomFrom(errors.length));
  const drawn = errors.flatMap((e) =>
    e.leastSdM === undefined ? [] : [0, 1, 2].map(() => Math.abs(e.leastSdM! * normal())),
  );
  return drawn.length === 0 ? undefined : quantile(drawn, 0.95);
}

function movingCameras(clips: number, say: Say) {
  let [frameMs, frames, lookMs, looks] = [0, 0, 0, 0];
  for (const motion of ["hand-held", "pan", "pan and zoom"] as const) {
    const errors: Placed[] = [];
    let [worstPx, before] = [0, 0];
    for (let clip = 0; clip < clips; clip++)
      for (const yawDeg of [0, 20]) {
        const filmed = movingClip(motion, yawDeg, 31 * clip + yawDeg);
        errors.push(...filmed.errors);
        worstPx = Math.max(worstPx, filmed.registrationRmsPx);
        before = Math.max(before, filmed.unanchoredRmsPx);
        frameMs += filmed.ms;
        frames += filmed.frames;
        lookMs += filmed.lookMs;
        looks += filmed.looks;
      }
    say(motion, errors);
    console.log(
      `${"".padEnd(44)} registration off by ${worstPx.toFixed(2)} px rms at the row in the worst clip (${before.toFixed(2)} before the poles were asked)`,
    );
  }
  return { frameMs: frameMs / frames, lookMs: lookMs / looks };
}

function sessionTable(sessions: number) {
  console.log("verdicts of sessions of whole passes, marks and pads ± 1 cm too high");
  return SESSION_VIEWS.map((view) => {
    const tally = sessionsBefore(view, sessions);
    console.log(
      `${`${view.yawDeg}° off square, ${view.heightM} m high`.padEnd(44)} n ${String(tally.sessions).padStart(5)}  right ${tally.right}  can't tell ${tally.cannotTell}  wrong and sure ${tally.sureWrong}`,
    );
    return { ...view, ...tally };
  });
}

function verdictTable(sessions: number) {
  console.log("verdicts of random sessions over random cameras, paw height off by ± 8 mm");
  return Object.fromEntries(
    VERDICT_CONDITIONS.map((condition) => {
      const tally = verdictsUnder(condition, sessions);
      console.log(
        `${condition.name.padEnd(44)} n ${String(tally.sessions).padStart(5)}  right ${tally.right}  can't tell ${tally.cannotTell}  wrong and sure ${tally.sureWrong} (without a camera ${tally.sureWrongWithoutCamera})  step off by ${(100 * tally.scaleError).toFixed(1)} %`,
      );
      return [condition.name, tally] as const;
    }),
  );
}

async function renderedClips(folder: string, only: readonly string[]) {
  console.log("rendered clips through the whole path, cm");
  const clips: Record<string, unknown> = {};
  const all: { errorM: number; seM: number }[] = [];
  await measureClips(folder, only, (clip) => {
    const { errors, errorsOutside, ...rest } = clip;
    const summary = summarise(errors);
    const outside = summarise(errorsOutside);
    all.push(...errors);
    clips[clip.name] = { ...rest, ...summary, outside };
    console.log(
      `${clip.name.padEnd(20)} found ${errors.length + errorsOutside.length} of ${clip.asked}  between the poles ${errors.length}: mean ${cm(summary.meanCm)}  p95 ${cm(summary.p95Cm)}  bias ${cm(summary.biasCm)}  within ${(100 * summary.coverage).toFixed(0)} %  (outside: p95 ${cm(outside.p95Cm)})  ${clip.verdict}${clip.wanted === clip.verdict ? "" : ` (${clip.wanted})`} ${clip.confidence.toFixed(2)}  knocks ${clip.knocksFound} of ${clip.knocksTrue}, invented ${clip.knocksInvented}${clip.lost.length > 0 ? `  lost ${clip.lost.map((l) => l.map((t) => t.toFixed(1)).join("–")).join(", ")} s` : ""}`,
    );
  });
  const together = summarise(all);
  console.log(
    `together, between the poles: n ${together.n}  p95 ${cm(together.p95Cm)}  bias ${cm(together.biasCm)}  within ${(100 * together.coverage).toFixed(1)} %`,
  );
  return { ...clips, together };
}

interface Summary {
  n: number;
  meanCm: number;
  p95Cm: number;
  biasCm: number;
  /** Share of truths inside the stated 95 % interval. */
  coverage: number;
}

function summarise(errors: readonly { errorM: number; seM: number }[]): Summary {
  const mean = (values: readonly number[]) => values.reduce((sum, v) => sum + v, 0) / values.length;
  return {
    n: errors.length,
    meanCm: round(100 * mean(errors.map((e) => Math.abs(e.errorM)))),
    p95Cm: round(
      100 *
        quantile(
          errors.map((e) => Math.abs(e.errorM)),
          0.95,
        ),
    ),
    biasCm: round(100 * mean(errors.map((e) => e.errorM))),
    coverage: round(mean(errors.map((e) => (Math.abs(e.errorM) < 1.96 * e.seM ? 1 : 0)))),
  };
}

const round = (value: number, digits = 3) => Math.round(value * 10 ** digits) / 10 ** digits;

function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]!;
}

function cm(value: number): string {
  return value.toFixed(2).padStart(6);
}

function stillRow(yawDeg: number, heightM: number, view: View, seed: number): Placed[] {
  const random = randomFrom(Math.round(seed * 97));
  const row = someRow(yawDeg, heightM, view.nearOnly ?? false, random);
  const { camera, lengthM } = row;
  const marks = view.upright ? withWithers(row, random) : row.marks;
  const map = fitGround(marks, FULL).map;
  if (!map) return [];
  const frames = Math.round(FPS * PLAIN_MARK.stanceS);
  // The bound is as dear as a fit, and wanted only of the plain views: one landing a row.
  const bounded = view.laneSdM === undefined && view.pawHeightSdM === undefined && !view.upright;
  return Array.from({ length: 6 }, (_, k) => {
    const at = { xM: random() * lengthM, yM: 0.2 + 0.5 * random() };
    const placed = landing(
      map,
      at,
      Array.from({ length: frames }, () => camera),
      Array.from({ length: frames }, () => IDENTITY),
      0,
      view,
      random,
    );
    const leastSdM = bounded && k === 0 ? leastLandingSd(row, at, view.nearOnly ?? false) : undefined;
    return { ...placed, heightM, yawDeg, leastSdM };
  });
}

/** What is left where most poles cannot be seen: the near ends of two, and the dog of known height beside them. */
function withWithers(row: Row, random: () => number): PoleMarks {
  const normal = normalFrom(random);
  const first = Math.floor(row.laidXM.length / 2) - 1;
  const x = row.laidXM[first]! + 0.2;
  const tap = (heightM: number) => {
    const p = project(row.camera, x, 0.4, heightM)!;
    // Where a dog's withers and its feet under them lie is seen less sharply than a pole's end.
    return { x: p.x + 3 * TAP_SD_PX * normal(), y: p.y + 3 * TAP_SD_PX * normal() };
  };
  return {
    ...row.marks,
    poles: row.marks.poles.map((p, k) => (k === first || k === first + 1 ? { near: p.near } : {})),
    upright: { foot: tap(0), top: tap(WITHERS_M), heightM: WITHERS_M },
  };
}

const WITHERS_M = 0.5;
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
  let [ms, lookMs] = [0, 0];
  const kept: { grey: GreyPicture; timeS: number }[] = [];
  cameras.forEach((camera, k) => {
    const dog = { xM: -0.5 + ((base.lengthM + 1) * k) / count, lengthM: 0.9, heightM: 0.55 };
    const grey = render(camera, GREY.width, GREY.height, FULL.widthPx, { ...scene, dog }, normal);
    const start = processorMs();
    registrar.add(grey, k / 30);
    ms += processorMs() - start;
    if (k % 3 === 0) kept.push({ grey, timeS: k / 30 });
  });
  const chained = registrar.finish(count / 2 / 30).registrations;
  const options = { map, scale: FULL.widthPx / GREY.width };
  const start = processorMs();
  const looks = kept.map(({ grey, timeS }) =>
    lookAtPoles(options, grey, timeS, chained.find((r) => r.timeS === timeS)!.frameToReference),
  );
  const { registrations } = anchorToPoles(chained, looks, map, count / 2 / 30);
  lookMs += processorMs() - start;

  const errors: Placed[] = [];
  const [offPx, unanchoredPx]: [number[], number[]] = [[], []];
  // Stances of eight frames at 30 frames a second all along the clip.
  for (let from = 0; from + 8 <= count; from += 4) {
    const frames = registrations.slice(from, from + 8);
    const seen = cameras.slice(from, from + 8);
    for (let place = 0; place < 3; place++) {
      const truth = { xM: random() * base.lengthM, yM: 0.2 + 0.5 * random() };
      if (!frames.every((f, k) => f.ok && visible(seen[k]!, truth))) continue;
      offPx.push(...misses(frames, seen, truth, reference));
      unanchoredPx.push(...misses(chained.slice(from, from + 8), seen, truth, reference));
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
  const rms = (px: number[]) => Math.sqrt(px.reduce((sum, d) => sum + d * d, 0) / px.length);
  return {
    errors,
    ms,
    frames: count,
    lookMs,
    looks: looks.length,
    registrationRmsPx: rms(offPx),
    unanchoredRmsPx: rms(unanchoredPx),
  };
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
        const across = (p: { x: number; y: number }) =>
          Math.abs((p.x * scale - near.x) * (far.y - near.y) - (p.y * scale - near.y) * (far.x - near.x)) /
          Math.hypot(far.x - near.x, far.y - near.y);
        if (found) {
          snapped.push(across(found.point));
          followed.push(across(found.otherEnd));
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
