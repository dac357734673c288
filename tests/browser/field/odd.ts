import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import type { Browser, Page } from "playwright-core";
import type { Outcome, Stored } from "../pages/field-page.ts";
import { Chance } from "./seeded.ts";

const folder = fileURLToPath(new URL("../../../fixtures/odd", import.meta.url));

/** What fixtures/odd/make.mjs says of a file; times are those that ffprobe reads. */
interface Truth {
  timesS: number[];
  storedWidth: number;
  storedHeight: number;
  rotationDeg: number;
  firstNumber: number;
  everyOther?: boolean;
  everyThird?: boolean;
}

const truths: Record<string, Truth> = JSON.parse(readFileSync(join(folder, "truth.json"), "utf8"));

export function truthOf(name: string): Truth {
  const truth = truths[name];
  if (!truth) throw new Error(`fixtures/odd/truth.json says nothing of ${name}.`);
  return truth;
}

/** A file of the museum, and what must come of it. */
export interface OddFile {
  name: string;
  /** What is odd about it. */
  about: string;
  bytes?: Buffer;
  path?: string;
  /** Read whole: every picture, in order, upright, at its true time. */
  truth?: Truth;
  /** Only this stretch is read. */
  stretch?: { fromS: number; toS: number };
  /** Frames that must come, where no truth says more. */
  frames?: number;
  /** It must be refused, with a sentence that says this. */
  refusal?: RegExp;
}

export interface OddResult {
  name: string;
  about: string;
  outcome: string;
  /** Highest resident memory of the page's process while the file was opened and read, MB. */
  peakMb: number;
  seconds: number;
  /** Why the outcome is not right; null when it is. */
  fault: string | null;
}

/** Longer than this is a hang. */
const HANG_MS = 120_000;

const REFUSED: Record<string, [about: string, sentence: RegExp]> = {
  "cut-no-index.mp4": ["cut off before its index", /index.*missing/],
  "sound-only.m4a": ["sound only", /sound but no picture/],
  "text.mp4": ["text under a video's name", /not a video/],
  "unknown-codec.avi": ["a codec nobody knows", /cannot be decoded here/],
};

/** Damaged on purpose: what is there of them is read, and what is missing is said. */
const DAMAGED = ["damaged.mp4", "damaged-hevc.mov", "cut-index-first.mp4"];

/** The files of fixtures/odd as they are. */
export function wholeFiles(): OddFile[] {
  return readdirSync(folder)
    .filter((name) => /\.(mp4|mov|webm|avi|mkv|m4a|m2ts)$/.test(name))
    .map((name) => {
      const path = join(folder, name);
      const refused = REFUSED[name];
      if (refused) return { name, about: refused[0], path, refusal: refused[1] };
      const truth = truthOf(name);
      return DAMAGED.includes(name)
        ? { name, about: "damaged or cut off", path }
        : { name, about: name.replace(/\..*$/, "").replaceAll("-", " "), path, truth };
    });
}

/** Files under names that promise something else, and a file of nothing. */
export function misnamed(): OddFile[] {
  const of = (real: string, name: string): OddFile => ({
    name,
    about: `really ${real}`,
    bytes: readFileSync(join(folder, real)),
    truth: truthOf(real),
  });
  return [
    of("plain-60.mp4", "wrong.avi"),
    of("open-web.webm", "wrong.mp4"),
    of("old-camera.avi", "wrong.mov"),
    of("phone-hevc.mov", "no-ending"),
    { name: "nothing.mp4", about: "0 bytes", bytes: Buffer.alloc(0), refusal: /0 bytes/ },
    { name: "one.mp4", about: "1 byte", bytes: Buffer.from([0]), refusal: /./ },
    { name: "zeroes.mov", about: "zeroes only", bytes: Buffer.alloc(20_000), refusal: /./ },
  ];
}

/** Files cut off at places spread over their length. */
export function truncated(
  places: number,
  names = ["plain-60.mp4", "turned-90.mov", "open-web.webm", "fragments.mp4"],
) {
  return names.flatMap((real) => {
    const bytes = readFileSync(join(folder, real));
    return Array.from({ length: places }, (_, k): OddFile => {
      const at = Math.floor(((k + 1) * bytes.length) / (places + 1));
      return { name: `cut-${at}-${real}`, about: `${real} cut at ${at} bytes`, bytes: bytes.subarray(0, at) };
    });
  });
}

/** Files with bits turned over by chance: few or many, anywhere or in the header. */
export function flipped(count: number, seed: number, names?: string[]): OddFile[] {
  const chance = new Chance(seed);
  const real = names ?? wholeFiles().flatMap(({ name, truth }) => (truth ? [name] : []));
  return Array.from({ length: count }, (_, k): OddFile => {
    const name = chance.of(real);
    const bytes = Buffer.from(readFileSync(join(folder, name)));
    const flips = chance.of([1, 3, 10, 100]);
    const within = chance.share() < 0.4 ? Math.min(bytes.length, 600) : bytes.length;
    for (let n = 0; n < flips; n++) {
      const at = chance.below(within);
      bytes[at] = (bytes[at] as number) ^ (1 << chance.below(8));
    }
    return { name: `flip-${seed}-${k}-${name}`, about: `${name} with ${flips} bits turned over`, bytes };
  });
}

/** Opens and reads every file in a page of its own, and says what is wrong with what came of it. */
export async function readOddFiles(
  browser: Browser,
  pageUrl: string,
  files: OddFile[],
  onResult: (result: OddResult) => void = () => {},
): Promise<OddResult[]> {
  const results: OddResult[] = [];
  let page: Page | null = null;
  for (const file of files) {
    page ??= await openPage(browser, pageUrl);
    const { result, usable } = await readOne(browser, page, file);
    if (!usable || file.path || results.length % 25 === 0) {
      await page.close().catch(() => {});
      page = null;
    }
    results.push(result);
    onResult(result);
  }
  await page?.close();
  return results;
}

async function openPage(browser: Browser, url: string): Promise<Page> {
  const page = await browser.newPage();
  await page.goto(url);
  await page.waitForFunction(() => "field" in window);
  return page;
}

async function readOne(browser: Browser, page: Page, file: OddFile) {
  const path = file.path ?? join(tmpdir(), file.name);
  if (file.bytes) writeFileSync(path, file.bytes);
  await page.locator("#given").setInputFiles(path);
  const memory = await watchMemory(browser);
  const begun = performance.now();
  const stored: Stored | undefined = file.truth && {
    widthPx: file.truth.storedWidth,
    heightPx: file.truth.storedHeight,
    rotationDeg: file.truth.rotationDeg,
  };
  const options = { ...(stored ? { stored } : {}), ...file.stretch };
  let outcome: Outcome | "hung" | "crashed";
  let hanging: NodeJS.Timeout | undefined;
  try {
    outcome = await Promise.race([
      page.evaluate((given) => window.field.read(given), options),
      new Promise<"hung">((done) => {
        hanging = setTimeout(() => done("hung"), HANG_MS);
      }),
    ]);
  } catch {
    outcome = "crashed";
  } finally {
    clearTimeout(hanging);
  }
  const result: OddResult = {
    name: file.name,
    about: file.about,
    outcome: told(outcome),
    peakMb: await memory.end(),
    seconds: Math.round((performance.now() - begun) / 100) / 10,
    fault: faultOf(file, outcome),
  };
  return { result, usable: typeof outcome === "object" };
}

function told(outcome: Outcome | "hung" | "crashed"): string {
  if (typeof outcome === "string") return outcome;
  if (outcome.kind === "threw") return `threw: ${outcome.error}`;
  if (outcome.kind === "refused") return `refused (${outcome.reason}): ${outcome.sentence}`;
  const { timesS, decoder, codec, widthPx, heightPx, warnings } = outcome;
  const said = warnings.length > 0 ? `; ${warnings.join(" ")}` : "";
  return `${timesS.length} frames, ${widthPx} × ${heightPx}, ${codec}, ${decoder}${said}`;
}

function faultOf(file: OddFile, outcome: Outcome | "hung" | "crashed"): string | null {
  if (typeof outcome === "string") return outcome;
  if (outcome.kind === "threw") return "an error without a sentence";
  if (outcome.kind === "refused") {
    if (!/[.!]$/.test(outcome.sentence)) return "the refusal is no sentence";
    if (file.truth || file.frames !== undefined) return "refused, but could be read";
    return file.refusal && !file.refusal.test(outcome.sentence) ? "refused for another reason" : null;
  }
  if (file.refusal) return "read, but should have been refused";
  const { timesS } = outcome;
  if (timesS.some((timeS, k) => k > 0 && timeS <= (timesS[k - 1] as number))) return "times do not rise";
  if (file.frames !== undefined && timesS.length !== file.frames) return `${file.frames} frames were to come`;
  return file.truth ? wrongReading(file.truth, outcome) : null;
}

function wrongReading(truth: Truth, read: Extract<Outcome, { kind: "read" }>): string | null {
  const wanted = truth.timesS;
  if (read.timesS.length !== wanted.length) return `${wanted.length} frames were to come`;
  const first = wanted[0] ?? 0;
  // A transport stream's clock starts anywhere, and what lies before time zero is the clip's own start.
  const origin = first > 1 || first < 0 ? first : 0;
  const off = read.timesS.findIndex((timeS, k) => Math.abs(timeS - ((wanted[k] as number) - origin)) > 6e-4);
  if (off >= 0) return `frame ${off} at ${read.timesS[off]} s, not ${(wanted[off] as number) - origin}`;
  const numberOf = (k: number) =>
    truth.everyOther ? k >> 1 : truth.everyThird ? k - Math.floor(k / 3) : truth.firstNumber + k;
  const other = read.numbers.findIndex((number, k) => number !== numberOf(k));
  if (other >= 0) return `frame ${other} shows picture ${read.numbers[other]}, not ${numberOf(other)}`;
  return null;
}

/** Follows the memory of the browser's page processes, as the kernel counts it, until the end is asked for. */
export async function watchMemory(browser: Browser): Promise<{ end(): Promise<number> }> {
  const session = await browser.newBrowserCDPSession();
  const { processInfo } = await session.send("SystemInfo.getProcessInfo");
  await session.detach();
  const pages = processInfo.filter(({ type }) => type === "renderer").map(({ id }) => id);
  // Writing 5 makes the kernel forget the highest mark so far (proc(5), clear_refs).
  for (const pid of pages) attempt(() => writeFileSync(`/proc/${pid}/clear_refs`, "5"));
  return {
    end: async () =>
      Math.round(
        Math.max(
          0,
          ...pages.map(
            (pid) =>
              attempt(() =>
                Number(/VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, "utf8"))?.[1]),
              ) ?? 0,
          ),
        ) / 1024,
      ),
  };
}

function attempt<T>(work: () => T): T | undefined {
  try {
    return work();
  } catch {
    return undefined;
  }
}
