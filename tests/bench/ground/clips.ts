import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { root } from "../../../src/command/prepare.mjs";
import type { WholePole } from "../../../src/ground/rest-of-row.ts";
import type { ImagePoint, PoleMarks, PoleTap } from "../../../src/ground/types.ts";
import { normalFrom, randomFrom } from "../../unit/ground-scene.ts";
import { pairHind, readTruth, throughThePath } from "../landings/path.ts";
import { GROUND_PLANS } from "./plans.ts";
import { drawnToPole, fingered, frameOf, hasFfmpeg } from "./taps.ts";

/** What the whole path made of one rendered clip. */
export interface ClipMeasured {
  name: string;
  asked: number;
  /** Of landings between the poles, and of those before and after them. */
  errors: { errorM: number; seM: number }[];
  errorsOutside: { errorM: number; seM: number }[];
  verdict: string;
  wanted: string | null;
  confidence: number;
  knocksTrue: number;
  knocksFound: number;
  knocksInvented: number;
  lost: [number, number][];
}

/**
 * Renders the clips of `plans.ts` that the folder lacks (minutes each, in software), and sends them through the whole
 * path in a browser, the poles tapped by an ordinary hand and drawn onto the picture as the app does.
 * @param only names of clips, or the beginnings of them; all where empty.
 */
export async function measureClips(
  folder: string,
  only: readonly string[],
  onClip: (measured: ClipMeasured) => void,
): Promise<void> {
  const plans = GROUND_PLANS.filter((p) => only.length === 0 || only.some((name) => p.name.startsWith(name)));
  render(
    folder,
    plans.filter((p) => !existsSync(join(folder, `${p.name}.json`))).map((p) => p.name),
  );
  const clips = plans.map((plan, k) => {
    const path = join(folder, `${plan.name}.mp4`);
    const truth = readTruth(folder, path);
    return {
      name: plan.name,
      path,
      truth,
      knocks: plan.knocks ?? [],
      marks: tapped(truth.marks, path, truth.picture, 900 + k),
    };
  });
  await throughThePath(clips, ({ name, truth, knocks }, told) => {
    if (told instanceof Error) throw new Error(`${name}: ${told.message}`);
    const { wanted, pairs } = pairHind(truth, told);
    const lastM = truth.marks.gapsM.reduce((sum, gap) => sum + gap, 0);
    const between = (p: Pair) => p.truth.xM > 0 && p.truth.xM < lastM;
    const found = told.analysis.poles?.knocks ?? [];
    const hits = knocks.filter((k) =>
      found.some(
        (f) =>
          f.pole === k.pole &&
          Math.abs(f.timeS - k.atS) < 0.8 &&
          (f.shiftM === null || Math.abs(f.shiftM - k.shiftM) < 0.02),
      ),
    );
    onClip({
      name,
      asked: wanted.length,
      errors: errorsOf(pairs.filter(between)),
      errorsOutside: errorsOf(pairs.filter((p) => !between(p))),
      verdict: told.kind,
      wanted: truth.verdict,
      confidence: told.judgement.verdict.confidence,
      knocksTrue: knocks.length,
      knocksFound: hits.length,
      knocksInvented: found.length - hits.length,
      lost: told.analysis.camera.lost,
    });
  });
}

type Pair = ReturnType<typeof pairHind>["pairs"][number];

const errorsOf = (pairs: readonly Pair[]) =>
  pairs.map((p) => ({ errorM: p.found.xM - p.truth.xM, seM: p.found.xSeM }));

function render(folder: string, names: readonly string[]): void {
  if (names.length === 0) return;
  mkdirSync(folder, { recursive: true });
  const plans = join(folder, "plans.txt");
  writeFileSync(plans, JSON.stringify(GROUND_PLANS));
  console.log(`rendering ${names.join(", ")} …`);
  const done = spawnSync(
    process.execPath,
    [join(root, "fixtures/studio/render.mjs"), "--plans", plans, "--out", folder, ...names],
    { stdio: ["ignore", "ignore", "inherit"] },
  );
  if (done.status !== 0) throw new Error("The clips could not be rendered.");
}

/** The poles as a finger taps them and the app draws them; as the finger left them where no frame can be had. */
function tapped(marks: PoleMarks, clip: string, frame: { widthPx: number; heightPx: number }, seed: number) {
  const scale = Math.max(frame.widthPx, frame.heightPx) / 1920;
  const normal = normalFrom(randomFrom(seed));
  const picture = hasFfmpeg() ? frameOf(clip, marks.timeS, frame.widthPx, frame.heightPx) : null;
  const inside = (p: ImagePoint) => p.x >= 0 && p.y >= 0 && p.x < frame.widthPx && p.y < frame.heightPx;
  const poles = (marks.poles as WholePole[]).map((pole): PoleTap => {
    const taps = fingered(pole, scale, normal);
    const seen = { near: inside(pole.near), far: inside(pole.far) };
    // Nobody taps what the marked frame does not show.
    if (!seen.near || !seen.far)
      return { near: seen.near ? taps.near : undefined, far: seen.far ? taps.far : undefined };
    return picture ? drawnToPole(picture, taps, scale) : taps;
  });
  return { ...marks, poles };
}
