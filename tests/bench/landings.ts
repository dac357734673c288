import { existsSync, readdirSync } from "node:fs";
import { basename, extname, join, resolve } from "node:path";
import type { Told } from "../../src/command/headless.ts";
import { root } from "../../src/command/prepare.mjs";
import type { Paw } from "../../src/gait/types.ts";
import {
  pairHind,
  readTruth,
  SAME_PLACE_M,
  SLACK_S,
  type Truth,
  throughThePath,
  truthPath,
} from "./landings/path.ts";

/** The whole path over clips with known truth: `npm run bench -- landings [--clips DIR] [name …]`. */
export default async function run(args: string[]): Promise<void> {
  const at = args.indexOf("--clips");
  const folder = at >= 0 ? resolve(args[at + 1] ?? "") : join(root, "fixtures/clips");
  const wished = args.filter((_, i) => at < 0 || (i !== at && i !== at + 1));
  const clips = readdirSync(folder)
    .filter((f) => [".mp4", ".mov", ".webm", ".avi", ".mkv"].includes(extname(f)))
    .filter((f) => existsSync(truthPath(folder, f)))
    .filter((f) => wished.length === 0 || wished.some((w) => basename(f).startsWith(w)))
    .sort();
  const rows: Row[] = [];
  await throughThePath(
    clips.map((name) => ({ name, path: join(folder, name), truth: readTruth(folder, name) })),
    ({ name, truth }, told) => {
      rows.push(told instanceof Error ? failed(name, truth, told) : compare(name, truth, told));
      console.log(line(rows[rows.length - 1]!));
    },
  );
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
  const { wanted, pairs, left } = pairHind(truth, told);
  const errorsM = pairs.map(({ found, truth }) => found.xM - truth.xM);
  const onErrorsS = pairs.map(({ found, truth }) => found.onS - truth.onS);
  const wrongSide = pairs.filter(({ found, truth }) => found.paw !== truth.paw).length;
  // Landings seen in part are not asked for, but finding them is no invention.
  const hind = (l: { paw: Paw }) => l.paw[1] === "H";
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
