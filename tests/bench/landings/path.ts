import { readFileSync } from "node:fs";
import { basename, extname, join } from "node:path";
import { chromium } from "playwright-core";
import { chromiumArgs, ensureChromium } from "../../../src/command/chromium.mjs";
import type { Told } from "../../../src/command/headless.ts";
import { buildIfNeeded } from "../../../src/command/prepare.mjs";
import { serveSite } from "../../../src/command/site.mjs";
import type { Landing, Paw } from "../../../src/gait/types.ts";
import type { PoleMarks } from "../../../src/ground/types.ts";
import type { PoleGait } from "../../../src/spacing/types.ts";

export interface Truth {
  picture: { widthPx: number; heightPx: number };
  marks: PoleMarks;
  gait: PoleGait;
  landings: TrueLanding[];
  /** Stances cut by the picture's edge or the clip's ends: neither right nor wrong to find. */
  partLandings?: TrueLanding[];
  verdict: string | null;
}

export interface TrueLanding {
  paw: Paw;
  onS: number;
  offS: number;
  xM: number;
  yM: number;
  visible?: number;
}

/** Landings under this probability are not counted on the screen either. */
const COUNTS_FROM = 0.3;
/** A found landing is a true one when it is this near in place, metres, and they overlap in time. */
export const SAME_PLACE_M = 0.12;
export const SLACK_S = 0.05;

export const truthPath = (folder: string, clip: string) =>
  join(folder, `${basename(clip, extname(clip))}.json`);

export function readTruth(folder: string, clip: string): Truth {
  return JSON.parse(readFileSync(truthPath(folder, clip), "utf8"));
}

/** A clip to be sent through the whole path, with the marks to use (those of the truth unless given). */
export interface KnownClip {
  name: string;
  path: string;
  truth: Truth;
  marks?: PoleMarks | undefined;
}

/** Sends clips through the whole path in a real browser, one after another; what failed is told as its error. */
export async function throughThePath<T extends KnownClip>(
  clips: readonly T[],
  onTold: (clip: T, told: Told | Error) => void,
): Promise<void> {
  buildIfNeeded();
  const files = new Map<string, string>();
  const site = await serveSite({ files });
  const browser = await chromium.launch({ executablePath: ensureChromium(), args: chromiumArgs });
  try {
    for (const clip of clips) {
      files.set("clip", clip.path);
      const page = await browser.newPage();
      if (process.env.PAWGAP_VERBOSE) page.on("console", (m) => console.error(m.text()));
      await page.goto(`${site.url}headless.html`);
      await page.waitForFunction(() => "pawgap" in window);
      try {
        const told: Told = await page.evaluate((job) => window.pawgap.check(job), {
          clipUrl: "given/clip",
          fileName: basename(clip.path),
          marks: clip.marks ?? clip.truth.marks,
          gait: clip.truth.gait ?? "trot",
          aim: "first-poles" as const,
          write: false,
        });
        onTold(clip, told);
      } catch (error) {
        onTold(clip, error instanceof Error ? error : new Error(String(error)));
      }
      await page.close();
    }
  } finally {
    await browser.close();
    await site.close();
  }
}

/** Hind landings asked for, each found one with the true one it stands for, and the found ones left over. */
export function pairHind(truth: Truth, told: Told) {
  const hind = (l: { paw: Paw }) => l.paw[1] === "H";
  const left: Landing[] = told.analysis.passes
    .flatMap((p) => p.landings)
    .filter((l) => hind(l) && l.probability >= COUNTS_FROM);
  const wanted = truth.landings.filter((l) => hind(l) && (l.visible ?? 1) >= 0.5);
  const pairs = wanted.flatMap((t) => {
    const near = left
      .filter(
        (l) => Math.abs(l.xM - t.xM) < SAME_PLACE_M && l.onS < t.offS + SLACK_S && l.offS > t.onS - SLACK_S,
      )
      .sort((a, b) => Math.abs(a.xM - t.xM) - Math.abs(b.xM - t.xM))[0];
    if (!near) return [];
    left.splice(left.indexOf(near), 1);
    return [{ truth: t, found: near }];
  });
  return { wanted, pairs, left };
}
