import { existsSync, readdirSync, readFileSync } from "node:fs";
import { basename, extname, join, resolve } from "node:path";
import { chromium } from "playwright-core";
import { chromiumArgs, ensureChromium } from "../../src/command/chromium.mjs";
import type { Told } from "../../src/command/headless.ts";
import { buildIfNeeded, root } from "../../src/command/prepare.mjs";
import { serveSite } from "../../src/command/site.mjs";
import type { Landing, Paw } from "../../src/gait/types.ts";
import type { PoleMarks } from "../../src/ground/types.ts";
import type { PoleGait } from "../../src/spacing/types.ts";

interface Truth {
  marks: PoleMarks;
  gait: PoleGait;
  landings: TrueLanding[];
  /** Stances cut by the picture's edge or the clip's ends: neither right nor wrong to find. */
  partLandings?: TrueLanding[];
  verdict: string | null;
}

interface TrueLanding {
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
const SAME_PLACE_M = 0.12;
const SLACK_S = 0.05;

/** The whole path over clips with known truth: `npm run bench -- landings [--clips DIR] [name …]`. */
export default async function run(args: string[]): Promise<void> {
  const at = args.indexOf("--clips");
  const folder = at >= 0 ? resolve(args[at + 1] ?? "") : join(root, "fixtures/clips");
  const wished = args.filter((_, i) => at < 0 || (i !== at && i !== at + 1));
  buildIfNeeded();
  const clips = readdirSync(folder)
    .filter((f) => [".mp4", ".mov", ".webm", ".avi", ".mkv"].includes(extname(f)))
    .filter((f) => existsSync(truthPath(folder, f)))
    .filter((f) => wished.length === 0 || wished.some((w) => basename(f).startsWith(w)))
    .sort();
  const files = new Map<string, string>();
  const site = await serveSite({ files });
  const browser = await chromium.launch({ executablePath: ensureChromium(), args: chromiumArgs });
  const rows: Row[] = [];
  try {
    for (const name of clips) {
      const truth: Truth = JSON.parse(readFileSync(truthPath(folder, name), "utf8"));
      files.set("clip", join(folder, name));
      const page = await browser.newPage();
      if (process.env.PAWGAP_VERBOSE) page.on("console", (m) => console.error(m.text()));
      await page.goto(`${site.url}headless.html`);
      await page.waitForFunction(() => "pawgap" in window);
      try {
        const told: Told = await page.evaluate((job) => window.pawgap.check(job), {
          clipUrl: "given/clip",
          fileName: name,
          marks: truth.marks,
          gait: truth.gait ?? "trot",
          aim: "first-poles" as const,
          write: false,
        });
        rows.push(compare(name, truth, told));
      } catch (error) {
        rows.push(failed(name, truth, error));
      }
      await page.close();
      console.log(line(rows[rows.length - 1]!));
    }
  } finally {
    await browser.close();
    await site.close();
  }
  console.log(`\n${HEAD}`);
  for (const row of rows) console.log(line(row));
  const errors = rows.flatMap((r) => r.errorsM);
  const judged = rows.filter((r) => r.wanted !== null);
  console.log(
    JSON.stringify({
      clips: rows.length,
      hindTruth: sum(rows, (r) => r.truth),
      hindFound: sum(rows, (r) => r.errorsM.length),
      hindInvented: sum(rows, (r) => r.invented),
      wrongSide: sum(rows, (r) => r.wrongSide),
      offsetP95Cm: cm(quantile(errors.map(Math.abs), 0.95)),
      offsetBiasCm: cm(mean(errors)),
      verdictsRight: judged.filter((r) => r.wanted === r.verdict).length,
      verdicts: judged.length,
      secondsPerClipSecond: round(sum(rows, (r) => r.secondsTaken) / sum(rows, (r) => r.durationS), 2),
    }),
  );
}

const truthPath = (folder: string, clip: string) => join(folder, `${basename(clip, extname(clip))}.json`);

interface Row {
  name: string;
  truth: number;
  errorsM: number[];
  invented: number;
  wrongSide: number;
  onErrorsS: number[];
  wanted: string | null;
  verdict: string;
  secondsTaken: number;
  durationS: number;
  note: string;
}

function compare(name: string, truth: Truth, told: Told): Row {
  const hind = (l: { paw: Paw }) => l.paw[1] === "H";
  const found = told.analysis.passes
    .flatMap((p) => p.landings)
    .filter((l) => hind(l) && l.probability >= COUNTS_FROM);
  const left: Landing[] = [...found];
  const errorsM: number[] = [];
  const onErrorsS: number[] = [];
  let wrongSide = 0;
  const wanted = truth.landings.filter((l) => hind(l) && (l.visible ?? 1) >= 0.5);
  for (const t of wanted) {
    const near = left
      .filter(
        (l) => Math.abs(l.xM - t.xM) < SAME_PLACE_M && l.onS < t.offS + SLACK_S && l.offS > t.onS - SLACK_S,
      )
      .sort((a, b) => Math.abs(a.xM - t.xM) - Math.abs(b.xM - t.xM))[0];
    if (!near) continue;
    left.splice(left.indexOf(near), 1);
    errorsM.push(near.xM - t.xM);
    onErrorsS.push(near.onS - t.onS);
    if (near.paw !== t.paw) wrongSide++;
  }
  // Landings seen in part are not asked for, but finding them is no invention.
  const partly = [...truth.landings.filter((l) => (l.visible ?? 1) < 0.5), ...(truth.partLandings ?? [])];
  const invented = left.filter(
    (l) =>
      !partly.some(
        (t) =>
          hind(t) &&
          Math.abs(l.xM - t.xM) < SAME_PLACE_M &&
          l.onS < t.offS + SLACK_S &&
          l.offS > t.onS - SLACK_S,
      ),
  );
  return {
    name,
    truth: wanted.length,
    errorsM,
    onErrorsS,
    invented: invented.length,
    wrongSide,
    wanted: truth.verdict,
    verdict: told.kind,
    secondsTaken: told.secondsTaken,
    durationS: told.durationS,
    note: told.analysis.passes.length === 0 ? (told.notes[0] ?? "") : "",
  };
}

function failed(name: string, truth: Truth, error: unknown): Row {
  return {
    name,
    truth: truth.landings.filter((l) => l.paw[1] === "H").length,
    errorsM: [],
    onErrorsS: [],
    invented: 0,
    wrongSide: 0,
    wanted: truth.verdict,
    verdict: "failed",
    secondsTaken: 0,
    durationS: 0,
    note: error instanceof Error ? error.message.split("\n")[0]! : String(error),
  };
}

const HEAD =
  "clip                  truth found invented side✗   mean cm  p95 cm  bias cm  on ms   verdict (wanted)                   s/s";

function line(r: Row): string {
  const abs = r.errorsM.map(Math.abs);
  const verdict = r.verdict === r.wanted || r.wanted === null ? r.verdict : `${r.verdict} (${r.wanted}) ✗`;
  return [
    r.name.padEnd(22),
    String(r.truth).padStart(5),
    String(r.errorsM.length).padStart(5),
    String(r.invented).padStart(8),
    String(r.wrongSide).padStart(5),
    String(cm(mean(abs))).padStart(9),
    String(cm(quantile(abs, 0.95))).padStart(7),
    String(cm(mean(r.errorsM))).padStart(8),
    String(Math.round(1000 * mean(r.onErrorsS))).padStart(6),
    `  ${verdict}`.padEnd(36),
    round(r.secondsTaken / r.durationS, 2),
    r.note,
  ].join(" ");
}

const round = (v: number, digits: number) => Math.round(v * 10 ** digits) / 10 ** digits;
const cm = (m: number) => (Number.isFinite(m) ? round(100 * m, 2) : null);
const mean = (v: number[]) => v.reduce((a, b) => a + b, 0) / v.length;
const sum = <T>(rows: T[], of: (row: T) => number) => rows.reduce((total, row) => total + of(row), 0);

function quantile(values: number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.ceil(share * sorted.length) - 1)] ?? Number.NaN;
}
