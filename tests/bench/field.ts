import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, symlinkSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { buildIfNeeded, root } from "../../src/command/prepare.mjs";
import { serveSite } from "../../src/command/site.mjs";
import { killAndCompare } from "../browser/field/kills.ts";
import {
  flipped,
  misnamed,
  type OddFile,
  type OddResult,
  readOddFiles,
  truncated,
  truthOf,
  wholeFiles,
} from "../browser/field/odd.ts";
import { openBrowser, startSite } from "../browser/harness.ts";
import { importers } from "../unit/importers.ts";

/**
 * Odd files, killed pages, fuzzed importers and a build repeated in another folder:
 * `npm run bench -- field [--kills 20] [--cases 100000] [--flips 200] [--places 20] [--large 1] [--builds 1] [--seed 1]`.
 * A size of 0 leaves that part out. The large files are made with a native ffmpeg and thrown away.
 */
export default async function run(args: string[]): Promise<void> {
  const size = (name: string, usual: number) => {
    const at = args.indexOf(`--${name}`);
    return at < 0 ? usual : Number(args[at + 1]);
  };
  const seed = size("seed", 1);
  const odd = await readMuseum(size("places", 20), size("flips", 200), size("large", 1) > 0, seed);
  const kills = await kill(size("kills", 20), seed);
  const fuzz = await fuzzAll(size("cases", 100_000), seed);
  const differing = size("builds", 1) > 0 ? builtDifferently() : null;
  console.log(
    JSON.stringify({
      oddFiles: odd.length,
      oddFaults: odd.filter(({ fault }) => fault !== null).length,
      oddHung: odd.filter(({ outcome }) => outcome === "hung").length,
      oddCrashed: odd.filter(({ outcome }) => outcome === "crashed").length,
      oddPeakMb: Math.max(0, ...odd.map(({ peakMb }) => peakMb)),
      ...kills,
      fuzzCases: fuzz.cases,
      fuzzFailures: fuzz.failures.length,
      filesBuiltDifferently: differing,
    }),
  );
}

async function readMuseum(places: number, flips: number, large: boolean, seed: number): Promise<OddResult[]> {
  const scratch = mkdtempSync(join(tmpdir(), "pawgap-large-"));
  const [site, browser] = await Promise.all([
    startSite({ built: true, page: "tests/browser/pages/field.html" }),
    openBrowser(),
  ]);
  try {
    const files = [
      ...(places > 0 ? [...wholeFiles(), ...misnamed(), ...truncated(places)] : []),
      ...flipped(flips, seed),
      ...(large ? makeLarge(scratch) : []),
    ];
    return await readOddFiles(browser, site.url, files, ({ name, about, outcome, peakMb, seconds, fault }) =>
      console.log(
        `${fault ? `✗ ${fault}` : "as it should be"} | ${name} (${about}) | ${outcome} | ${peakMb} MB | ${seconds} s`,
      ),
    );
  } finally {
    await browser.close();
    await site.close();
    rmSync(scratch, { recursive: true, force: true });
  }
}

/** What is too large to keep: 4K, and clips of one, ten and thirty minutes in 1080p at 60 frames a second. */
function makeLarge(folder: string): OddFile[] {
  const ffmpeg = (...args: string[]) => {
    const done = spawnSync("ffmpeg", ["-v", "error", "-y", ...args], { encoding: "utf8" });
    if (done.status !== 0) throw new Error(`The large files need a native ffmpeg: ${done.stderr}`);
  };
  const x264 = ["-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p"];
  const four = join(folder, "four-k-60.mp4");
  const numbered = join(root, "fixtures/odd/plain-60.mp4");
  ffmpeg("-i", numbered, "-vf", "scale=3840:2880:flags=neighbor", ...x264, "-crf", "28", four);
  const tenSeconds = join(folder, "ten-seconds.mp4");
  const demo = join(root, "fixtures/clips/demo-fits.mp4");
  const size = ["-t", "10", "-vf", "scale=1920:1080", "-r", "60", "-g", "60", "-bf", "0", "-an"];
  ffmpeg("-stream_loop", "2", "-i", demo, ...size, ...x264, "-crf", "33", tenSeconds);
  const long = [1, 10, 30].map((minutes): OddFile => {
    const path = join(folder, `minutes-${minutes}.mp4`);
    ffmpeg("-stream_loop", String(6 * minutes - 1), "-i", tenSeconds, "-c", "copy", path);
    const fromS = 30 * minutes + 0.001;
    return {
      name: `minutes-${minutes}.mp4`,
      about: `${minutes} min of 1080p60, four seconds from the middle`,
      path,
      stretch: { fromS, toS: fromS + 4 },
      frames: 240,
    };
  });
  return [
    { name: "four-k-60.mp4", about: "4K at 60 frames a second", path: four, truth: truthOf("plain-60.mp4") },
    ...long,
  ];
}

async function kill(kills: number, seed: number) {
  buildIfNeeded();
  const site = await serveSite();
  try {
    const report = await killAndCompare({ siteUrl: site.url, kills, seed, onKill: console.log });
    const { byPhase, byWay } = report;
    console.log(JSON.stringify({ byPhase, byWay, lost: report.lost }));
    return {
      kills: report.kills,
      killsLost: report.lost.length,
      analysesBrokenOff: report.analysesBrokenOff,
      framesDoneBeforeKill: report.framesDoneBefore,
      looksTakenUp: report.framesTakenUp,
    };
  } finally {
    await site.close();
  }
}

async function fuzzAll(cases: number, seed: number): Promise<{ cases: number; failures: string[] }> {
  const weights = importers.reduce((sum, { weight }) => sum + weight, 0);
  const failures: string[] = [];
  let done = 0;
  for (const { name, weight, fuzz } of importers) {
    const share = Math.ceil((cases * weight) / weights);
    if (share === 0) continue;
    const begun = performance.now();
    try {
      await fuzz(share, seed);
      done += share;
    } catch (error) {
      failures.push(`${name}: ${error instanceof Error ? error.message : String(error)}`);
    }
    console.log(`${share} cases: ${name}, ${Math.round((performance.now() - begun) / 1000)} s`);
  }
  for (const failure of failures) console.log(failure);
  return { cases: done, failures };
}

/** Builds twice, in two folders of different names, and tells how many files of the two sites are not the same. */
function builtDifferently(): number {
  const scratch = mkdtempSync(join(tmpdir(), "pawgap-builds-"));
  try {
    const [one, other] = ["one", "a folder of another name"].map((name) => buildIn(join(scratch, name)));
    const names = new Set([...Object.keys(one ?? {}), ...Object.keys(other ?? {})]);
    const differing = [...names].filter((name) => one?.[name] !== other?.[name]);
    console.log(`${names.size} files built twice, not the same: ${differing.join(", ") || "none"}`);
    return differing.length;
  } finally {
    rmSync(scratch, { recursive: true, force: true });
  }
}

/** The digest of every file that a build in this folder makes. */
function buildIn(folder: string): Record<string, string> {
  const parts = ["src", "models", "fixtures/clips", "package.json", "tsconfig.json", "vite.config.ts"];
  for (const part of parts) cpSync(join(root, part), join(folder, part), { recursive: true });
  symlinkSync(join(root, "node_modules"), join(folder, "node_modules"));
  const vite = join(folder, "node_modules/vite/bin/vite.js");
  const done = spawnSync(process.execPath, [vite, "build", "--logLevel", "warn"], {
    cwd: folder,
    encoding: "utf8",
    env: { ...process.env, NODE_ENV: "production" },
  });
  if (done.status !== 0) throw new Error(`The site could not be built: ${done.stderr}`);
  const dist = join(folder, "dist");
  const names = readdirSync(dist, { recursive: true, encoding: "utf8" });
  return Object.fromEntries(
    names
      .filter((name) => statSync(join(dist, name)).isFile())
      .map((name) => [
        name,
        createHash("sha256")
          .update(readFileSync(join(dist, name)))
          .digest("hex"),
      ]),
  );
}
