import { existsSync, readdirSync, readFileSync } from "node:fs";
import { createServer } from "node:http";
import { basename, join, resolve } from "node:path";
import type { Page } from "playwright-core";
import type { PeoplePage } from "../../fixtures/studio/people.ts";
import { root } from "../../src/command/prepare.mjs";
import type { Box, PawSighting } from "../../src/paws/types.ts";
import { openBrowser, startSite } from "../browser/harness.ts";
import type { PawsBench, Spoil } from "./paws-page/page.ts";
import { PawScore, type TruePaw } from "./paws-page/score.ts";

declare const bench: PawsBench;
declare const people: PeoplePage;

/** An entry of a labels.json, as models/training/README.md describes it. */
interface LabelledPicture {
  file: string;
  species: string;
  box: [number, number, number, number];
  kp: Record<string, [number, number, number]>;
  sides?: boolean;
  heldOut?: boolean;
}

/** A marked frame of models/labels/video.json, in pixels of the whole frame. */
interface MarkedFrame extends Omit<LabelledPicture, "file"> {
  clip: string;
  frame: number;
  near: "left" | "right" | null;
  contact?: Record<string, 0 | 1>;
}

/** What the paws of a rendered clip are known to be. */
interface ClipTruth {
  file: string;
  picture: { turnDeg: number };
  paws?: {
    timeS: number;
    points: Partial<Record<"LH" | "RH" | "LF" | "RF", [number, number, number]>>;
    box: [number, number, number, number];
  }[];
}

/**
 * Where the shipped network puts paws, in Chromium on wasm: `npm run bench -- paws [--frames DIR] [--movenet FILE]`.
 * Rendered: every clip of fixtures/clips with known paws. Photographs: DIR, or ../shared/paws where it is (then only
 * those that training leaves out). Video: the frames of ../shared/clips that models/labels/video.json marks and
 * training leaves out. --movenet: JSON of the human single-pose graph, to time beside ours.
 */
export default async function run(args: string[]): Promise<void> {
  const option = (name: string) => {
    const at = args.indexOf(name);
    return at >= 0 ? resolve(args[at + 1] ?? "") : null;
  };
  const site = await startSite();
  const browser = await openBrowser();
  const movenet = option("--movenet");
  const labelled = option("--frames") ?? join(root, "../shared/paws");
  const served = new Map<string, string>();
  if (movenet) served.set("movenet", join(movenet, ".."));
  served.set("labelled", labelled);
  const films = join(root, "../shared/clips");
  served.set("films", films);
  const files = createServer((request, response) => {
    const [, place = "", ...rest] = decodeURIComponent(request.url ?? "").split("/");
    const path = join(served.get(place) ?? "", ...rest);
    response.setHeader("access-control-allow-origin", "*");
    if (!served.has(place) || !existsSync(path)) response.statusCode = 404;
    response.end(response.statusCode === 404 ? "" : readFileSync(path));
  });
  await new Promise<void>((done) => files.listen(0, "127.0.0.1", done));
  const address = files.address();
  const beside = `http://127.0.0.1:${typeof address === "object" ? address?.port : 0}`;
  try {
    const page = await browser.newPage();
    await page.goto(site.file("tests/browser/pages/blank.html"));
    await page.addScriptTag({ type: "module", url: site.file("tests/bench/paws-page/page.ts") });
    await page.waitForFunction("globalThis.bench !== undefined", undefined, { timeout: 120_000 });
    const { backend, inputPx } = await page.evaluate(() => bench.start());
    console.log(`${inputPx} px, ${backend}`);

    const clips = readClips();
    const rendered = await scoreClips(page, clips, (file) => site.file(`fixtures/clips/${file}`));
    show("rendered", rendered);
    let real: PawScore | null = null;
    if (existsSync(join(labelled, "labels.json"))) {
      real = await scorePictures(page, labelled, `${beside}/labelled`);
      show("real", real);
    } else {
      console.log(`real: skipped, no labels.json in ${basename(labelled)}`);
    }
    let video: PawScore | null = null;
    let videoLow: PawScore | null = null;
    const marked = readMarked().filter((f) => existsSync(join(films, f.clip)));
    const found: Record<string, Finds> = {};
    if (marked.length > 0) {
      const address = (clip: string) => `${beside}/films/${clip}`;
      const heldOut = marked.filter((f) => f.heldOut);
      video = await scoreFilms(page, heldOut, address, "square");
      show("held-out video", video);
      videoLow = await scoreFilms(page, heldOut, address, "low");
      show("held-out video, in crops as low as the pipeline's", videoLow);
      found.video = await findInFilms(page, marked, address);
    } else {
      console.log("video: skipped, no ../shared/clips");
    }
    found.empty = await findNothing(page, (file) => site.file(`fixtures/clips/${file}`));
    console.log("\nfinding the dog in whole frames:", JSON.stringify(found));
    const badInput = {
      ...(await tryBadInput(page, clips, (file) => site.file(`fixtures/clips/${file}`))),
      ...(await tryOtherAnimals(page, marked, beside, labelled)),
      ...(await tryPeople(page, (file) => site.file(file))),
    };
    console.log("\nbad input             frames  dog score (mean, most)  strongest paw (mean, most)");
    for (const [name, row] of Object.entries(badInput)) {
      const { frames, dog, paw } = row;
      console.log(
        `${name.padEnd(22)}${String(frames).padEnd(8)}${dog.mean}, ${dog.most}`.padEnd(54) +
          `${paw.mean}, ${paw.most}`,
      );
    }
    if (!movenet) console.log("\nhuman network: not timed, no --movenet FILE given");
    const url = movenet ? `${beside}/movenet/${basename(movenet)}` : null;
    const times = await page.evaluate((other) => bench.time(other), url);
    console.log(
      `\none crop: ${times.ours.toFixed(1)} ms, a low one ${times.oursLow.toFixed(1)} ms; human single-pose network: ${times.other?.toFixed(1) ?? "—"} ms`,
    );
    console.log(
      JSON.stringify({
        real: real?.report() ?? null,
        video: video?.report() ?? null,
        videoLow: videoLow?.report() ?? null,
        found,
        rendered: rendered.report(),
        badInput,
        msPerCrop: Math.round(times.ours * 10) / 10,
        msPerLowCrop: Math.round(times.oursLow * 10) / 10,
        msMovenetLightning: times.other === null ? null : Math.round(times.other * 10) / 10,
      }),
    );
  } finally {
    await browser.close();
    await site.close();
    files.close();
  }
}

function readClips(): ClipTruth[] {
  const folder = join(root, "fixtures/clips");
  return readdirSync(folder)
    .filter((f) => f.endsWith(".json"))
    .map((f) => JSON.parse(readFileSync(join(folder, f), "utf8")) as ClipTruth)
    .filter((clip) => clip.file.endsWith(".mp4") && existsSync(join(folder, clip.file)));
}

const asBox = ([left, top, right, bottom]: [number, number, number, number]): Box => ({
  x: left,
  y: top,
  width: right - left,
  height: bottom - top,
});

async function scoreClips(page: Page, clips: ClipTruth[], url: (file: string) => string): Promise<PawScore> {
  const score = new PawScore();
  for (const clip of clips) {
    if (!clip.paws?.length) continue;
    const wanted = clip.paws.map((p) => ({ timeS: p.timeS, box: asBox(p.box) }));
    const seen = await page.evaluate(([u, w]) => bench.lookAtClip(u, w), [url(clip.file), wanted] as const);
    seen.forEach((sighting, i) => {
      const frame = clip.paws![i]!;
      score.add(clipPaws(frame.points), sighting.peaks, sighting.joints, longer(asBox(frame.box)));
    });
  }
  return score;
}

function readMarked(): MarkedFrame[] {
  const file = join(root, "models/labels/video.json");
  return (JSON.parse(readFileSync(file, "utf8")) as { frames: MarkedFrame[] }).frames;
}

/** Marked frames of each clip, in order, with all animals marked in one frame together. */
function byClip(marked: MarkedFrame[]): Map<string, { frame: number; animals: MarkedFrame[] }[]> {
  const clips = new Map<string, { frame: number; animals: MarkedFrame[] }[]>();
  for (const one of [...marked].sort((a, b) => a.frame - b.frame)) {
    const frames = clips.get(one.clip) ?? [];
    const last = frames.at(-1);
    if (last?.frame === one.frame) last.animals.push(one);
    else frames.push({ frame: one.frame, animals: [one] });
    clips.set(one.clip, frames);
  }
  return clips;
}

async function scoreFilms(
  page: Page,
  marked: MarkedFrame[],
  url: (clip: string) => string,
  crops: "square" | "low",
): Promise<PawScore> {
  const score = new PawScore();
  for (const [clip, frames] of byClip(marked)) {
    const wanted = frames.map((f) => ({ frame: f.frame, boxes: f.animals.map((a) => asBox(a.box)) }));
    const seen = await page.evaluate(([u, w, c]) => bench.lookAtFrames(u, w, c), [
      url(clip),
      wanted,
      crops,
    ] as const);
    frames.forEach((f, i) => {
      f.animals.forEach((animal, j) => {
        const { peaks, joints } = seen[i]![j]!;
        score.add(markedPaws(animal), peaks, joints, longer(asBox(animal.box)));
      });
    });
  }
  return score;
}

function markedPaws(animal: MarkedFrame): TruePaw[] {
  return (["left", "right"] as const).flatMap((side) =>
    [true, false].flatMap((hind) => {
      const name = `${side}_${hind ? "hind" : "front"}_paw`;
      const point = animal.kp[name];
      if (!point) return [];
      const contact = animal.contact?.[name];
      return [
        {
          x: point[0],
          y: point[1],
          hind,
          seen: point[2] === 2,
          far: animal.near === null ? null : animal.near !== side,
          left: animal.sides === false ? null : side === "left",
          contact: contact === undefined ? undefined : contact === 1,
        },
      ];
    }),
  );
}

interface Finds {
  frames: number;
  /** Frames in which the best box lies on a marked animal (or, of empty scenes, in which there is a box). */
  found: number;
}

async function findInFilms(page: Page, marked: MarkedFrame[], url: (clip: string) => string): Promise<Finds> {
  const finds: Finds = { frames: 0, found: 0 };
  for (const [clip, frames] of byClip(marked.filter((f) => f.clip.endsWith(".mp4")))) {
    // Every sixth marked frame: neighbours look alike, and a search is two dozen looks.
    const some = frames.filter((_, i) => i % 6 === 0);
    const boxes = await page.evaluate(([u, w]) => bench.findInFrames(u, w), [
      url(clip),
      some.map((f) => f.frame),
    ] as const);
    some.forEach((f, i) => {
      finds.frames++;
      const box = boxes[i];
      if (box && f.animals.some((a) => overlap(box, asBox(a.box)) > 0.3)) finds.found++;
    });
  }
  return finds;
}

async function findNothing(page: Page, url: (file: string) => string): Promise<Finds> {
  const boxes = await page.evaluate(([u]) => bench.findInFrames(u, [5, 25, 45, 65]), [
    url("no-dog.mp4"),
  ] as const);
  return { frames: boxes.length, found: boxes.filter((b) => b !== null).length };
}

/** Shared area over joined area. */
function overlap(a: Box, b: Box): number {
  const width = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
  const height = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
  const shared = Math.max(0, width) * Math.max(0, height);
  return shared / (a.width * a.height + b.width * b.height - shared);
}

const longer = (box: Box) => Math.max(box.width, box.height);

/** All rendered passes are seen from one side; which foot is far follows from where fore and hind paws are. */
function clipPaws(points: NonNullable<ClipTruth["paws"]>[number]["points"]): TruePaw[] {
  const entries = Object.entries(points) as ["LH" | "RH" | "LF" | "RF", [number, number, number]][];
  const middle = (end: string) => {
    const xs = entries.filter(([name]) => name.endsWith(end)).map(([, p]) => p[0]);
    return xs.reduce((a, b) => a + b, 0) / xs.length;
  };
  // A dog that goes to the right shows its right side.
  const toRight = middle("F") > middle("H");
  return entries.map(([name, [x, y, v]]) => ({
    x,
    y,
    hind: name.endsWith("H"),
    seen: v === 2,
    far: name.startsWith("L") === toRight,
    left: name.startsWith("L"),
  }));
}

async function scorePictures(page: Page, folder: string, url: string): Promise<PawScore> {
  const all = (JSON.parse(readFileSync(join(folder, "labels.json"), "utf8")) as { images: LabelledPicture[] })
    .images;
  const marked = all.some((p) => p.heldOut !== undefined);
  const chosen = all.filter((p) => (marked ? p.heldOut : p.species === "dog" && isLeftOut(p.file)));
  const score = new PawScore();
  for (const picture of chosen) {
    const box = asBox(picture.box);
    const sighting = await page.evaluate(([u, b]) => bench.lookAtPicture(u, b), [
      `${url}/${picture.file}`,
      box,
    ] as const);
    score.add(labelledPaws(picture, longer(box)), sighting.peaks, sighting.joints, longer(box));
  }
  return score;
}

function labelledPaws(picture: LabelledPicture, length: number): TruePaw[] {
  const mean = (names: string[]) => {
    const xs = names.flatMap((n) => (picture.kp[n] ? [picture.kp[n][0]] : []));
    return xs.length ? xs.reduce((a, b) => a + b, 0) / xs.length : null;
  };
  const both = (part: string) => [`left_${part}`, `right_${part}`];
  const front = mean(["nose", ...both("elbow"), ...both("carpus"), ...both("front_paw")]);
  const back = mean(["tail_base", ...both("stifle"), ...both("hock"), ...both("hind_paw")]);
  const sides = picture.sides ?? true;
  const across = sides && front !== null && back !== null && Math.abs(front - back) > 0.38 * length;
  return ["left", "right"].flatMap((side) =>
    [true, false].flatMap((hind) => {
      const point = picture.kp[`${side}_${hind ? "hind" : "front"}_paw`];
      if (!point) return [];
      const left = side === "left";
      return [
        {
          x: point[0],
          y: point[1],
          hind,
          seen: point[2] === 2,
          far: across ? left === front! > back! : null,
          left: sides ? left : null,
        },
      ];
    }),
  );
}

/** The photographs that models/training/labelled.py keeps for checking: some breeds whole, some of all others. */
function isLeftOut(file: string): boolean {
  const stem = basename(file).replace(/\.\w+$/, "");
  const breed = /n\d{8}/.exec(file)?.[0] ?? file;
  return lot(breed.slice(-6)) < 0.1 || lot(stem.slice(-8)) < 0.05;
}

/** 0 to 1 from the first four letters, the same as in Python. */
function lot(text: string): number {
  const bytes = [...Buffer.from(text)];
  const number = bytes.slice(0, 4).reduce((sum, byte, i) => sum + byte * 256 ** i, 0);
  return (Math.imul(number, 2654435761) >>> 0) / 4294967296;
}

interface Scores {
  frames: number;
  dog: { mean: number; most: number };
  paw: { mean: number; most: number };
}

async function tryBadInput(page: Page, clips: ClipTruth[], url: (file: string) => string) {
  const look = async (
    name: string,
    place: (box: Box) => Box | null,
    spoil: Spoil = "nothing",
  ): Promise<Scores> => {
    const clip = clips.find((c) => c.file === `${name}.mp4`)!;
    const frames = clip.paws?.length
      ? clip.paws
      : [0.3, 0.8, 1.3, 1.8].map((timeS) => ({
          timeS,
          box: [0, 0, 1280, 720] as [number, number, number, number],
        }));
    const wanted = frames.map((p) => ({ timeS: p.timeS, box: place(asBox(p.box)) }));
    const seen = await page.evaluate(([u, w, s]) => bench.lookAtClip(u, w, s), [
      url(clip.file),
      wanted,
      spoil,
    ] as const);
    return scoresOf(seen);
  };
  const half = (box: Box): Box => ({ ...box, x: box.x + box.width * 0.75 });
  const pastTheDog = (box: Box): Box => ({ x: box.x > 600 ? 0 : 960, y: 380, width: 260, height: 260 });
  return {
    "a dog, for comparison": await look("demo-fits", (box) => box),
    "no dog, whole frame": await look("no-dog", () => null),
    "poles, past the dog": await look("bare-ground", pastTheDog),
    "dog cut by the crop": await look("demo-fits", half),
    "dog covered": await look("demo-fits", (box) => box, "covered"),
    "night noise": await look("demo-fits", (box) => box, "night"),
    "noise alone": await look("demo-fits", (box) => box, "noise"),
  } satisfies Record<string, Scores>;
}

/** Cats of the labelled pictures, and frames of ../shared/clips in which two animals are marked, both in the crop. */
async function tryOtherAnimals(page: Page, marked: MarkedFrame[], beside: string, labelled: string) {
  const rows: Record<string, Scores> = {};
  if (existsSync(join(labelled, "labels.json"))) {
    const { images } = JSON.parse(readFileSync(join(labelled, "labels.json"), "utf8")) as {
      images: LabelledPicture[];
    };
    const seen: PawSighting[] = [];
    for (const cat of images.filter((p) => p.species === "cat" || p.species === "jaguar")) {
      seen.push(
        await page.evaluate(([u, b]) => bench.lookAtPicture(u, b), [
          `${beside}/labelled/${cat.file}`,
          asBox(cat.box),
        ] as const),
      );
    }
    if (seen.length > 0) rows["a cat"] = scoresOf(seen);
  }
  const seen: PawSighting[] = [];
  for (const [clip, frames] of byClip(marked)) {
    const two = frames.filter((f) => f.animals.length > 1);
    if (two.length === 0) continue;
    const wanted = two.map((f) => ({
      frame: f.frame,
      boxes: [aroundAll(f.animals.map((a) => asBox(a.box)))],
    }));
    const looks = await page.evaluate(([u, w]) => bench.lookAtFrames(u, w), [
      `${beside}/films/${clip}`,
      wanted,
    ] as const);
    seen.push(...looks.flat());
  }
  if (seen.length > 0) rows["two dogs in a crop"] = scoresOf(seen);
  return rows;
}

/** A grown person walking and a child on all fours among the poles, no dog; each in a crop of its own. */
async function tryPeople(page: Page, file: (path: string) => string) {
  const drawing = await openBrowser({ webgl: true });
  try {
    const studio = await drawing.newPage();
    await studio.goto(file("tests/browser/pages/blank.html"));
    await studio.addScriptTag({ type: "module", url: file("fixtures/studio/people.ts") });
    await studio.waitForFunction("globalThis.people !== undefined", undefined, { timeout: 120_000 });
    const rows: Record<string, Scores> = {};
    for (const person of ["grown", "child"] as const) {
      const pictures = await studio.evaluate(([p, n]) => people.personPictures(p, n), [person, 8] as const);
      const seen: PawSighting[] = [];
      for (const { picture, box } of pictures)
        seen.push(await page.evaluate(([u, b]) => bench.lookAtPicture(u, b), [picture, box] as const));
      rows[person === "grown" ? "a person walking" : "a child on all fours"] = scoresOf(seen);
    }
    return rows;
  } finally {
    await drawing.close();
  }
}

function aroundAll(boxes: Box[]): Box {
  const x = Math.min(...boxes.map((b) => b.x));
  const y = Math.min(...boxes.map((b) => b.y));
  return {
    x,
    y,
    width: Math.max(...boxes.map((b) => b.x + b.width)) - x,
    height: Math.max(...boxes.map((b) => b.y + b.height)) - y,
  };
}

function scoresOf(seen: PawSighting[]): Scores {
  const of = (values: number[]) => ({
    mean: round(values.reduce((a, b) => a + b, 0) / values.length),
    most: round(Math.max(...values)),
  });
  return {
    frames: seen.length,
    dog: of(seen.map((s) => s.dogScore)),
    paw: of(seen.map((s) => Math.max(0, ...s.peaks.map((p) => p.score)))),
  };
}

const round = (v: number) => Math.round(v * 1000) / 1000;

function show(title: string, score: PawScore): void {
  console.log(
    `\n${title}: ${score.frames} pictures; found within 5 % and 10 % of the longer side of the dog's box`,
  );
  for (const [name, found] of [
    ["hind, near side", score.hindNear],
    ["hind, far side", score.hindFar],
    ["hind, all", score.hind],
    ["fore, near side", score.foreNear],
    ["fore, far side", score.foreFar],
    ["fore, all", score.fore],
    ["hind, any candidate", score.anyCandidate],
  ] as const) {
    console.log(`  ${name.padEnd(22)}${found.pck05 ?? "—"}  ${found.pck10 ?? "—"}  (${found.total})`);
  }
  const { foreHindExchanged, leftRightSwapped, contactRight, farMapRight } = score.report();
  console.log(`  fore and hind exchanged ${foreHindExchanged}; left and right swapped ${leftRightSwapped}`);
  console.log(`  right about the ground ${contactRight ?? "—"}; about near and far ${farMapRight ?? "—"}`);
}
