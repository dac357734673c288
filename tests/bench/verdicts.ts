import { writeFileSync } from "node:fs";
import { judge } from "../../src/spacing/judge.ts";
import { placeLandings } from "../../src/spacing/place.ts";
import { readRow } from "../../src/spacing/row-reading.ts";
import { travelRow } from "../../src/spacing/travel.ts";
import type { VerdictKind } from "../../src/spacing/types.ts";
import { clusterBootstrap } from "../../src/stats/bootstrap.ts";
import { seededRandom } from "../../src/stats/random.ts";
import { ordinary, type SimulatedSession, simulateSession } from "../simulated-sessions.ts";
import { calibrationSvg, confusionSvg } from "./drawings/verdicts.ts";

const ERRORS = [0, 0.02, 0.03, 0.05, 0.08, 0.1, 0.15];
const SCATTERS = [0.02, 0.04, 0.08];
const PASSES = [1, 2, 3, 6];
const POLES = [4, 6, 8];

export interface Cell {
  error: number;
  scatter: number;
  passes: number;
  poles: number;
  sessions: number;
  /** Sessions by what was said. */
  said: Partial<Record<VerdictKind, number>>;
  right: number;
  /** A side was said and it is not the true one; where the spacing fits exactly, any side is wrong. */
  wrong: number;
  /** Too close was said where poles are too far apart, or the other way round. */
  oppositeSide: number;
  /** Wrong, and said with a confidence of 0.8 or more. */
  confidentWrong: number;
  cannotTell: number;
  intervals: number;
  covered: number;
  sumErrorM: number;
  sumAbsoluteM: number;
  sumSquaresM: number;
  withinCm: number;
}

/** Sessions whose confidence lies in one tenth, and how many of them were right. */
export interface CalibrationBin {
  confidence: number;
  sessions: number;
  right: number;
}

/**
 * How often the verdict is right: `npm run bench -- verdicts [--sessions 400] [--resamples 60] [--draw DIR]`.
 * Simulated dogs with everything that goes wrong in a clip (tests/simulated-sessions.ts: landings missed, invented and
 * swapped, taps and places noisy, speed drifting, a left/right difference).
 */
export default async function run(args: string[]): Promise<void> {
  const sessions = numberAfter(args, "--sessions") ?? 400;
  const resamples = numberAfter(args, "--resamples") ?? 60;
  const draw = args.includes("--draw") ? args[args.indexOf("--draw") + 1] : undefined;
  const calibration: CalibrationBin[] = Array.from({ length: 10 }, (_, i) => ({
    confidence: (i + 0.5) / 10,
    sessions: 0,
    right: 0,
  }));
  const started = process.cpuUsage();
  const cells: Cell[] = [];
  for (const scatter of SCATTERS) {
    for (const poles of POLES) {
      for (const passes of PASSES) {
        for (const error of ERRORS) {
          cells.push(
            measure(
              { ...ordinary, scatter, poles, passes, spacingError: error },
              sessions,
              resamples,
              calibration,
            ),
          );
        }
      }
    }
  }
  // Processor time, so that a busy machine does not change the figure.
  const seconds = process.cpuUsage(started).user / 1e6;
  printTable(cells);
  const special = printSpecialCases(sessions, resamples);
  if (draw) {
    writeFileSync(`${draw}/confusion.svg`, confusionSvg(cells));
    writeFileSync(`${draw}/calibration.svg`, calibrationSvg(calibration));
  }
  console.log("\nCalibration: confidence of a spoken verdict against the share that was right");
  for (const bin of calibration.filter((b) => b.sessions > 0)) {
    console.log(
      `  ${bin.confidence.toFixed(2)}  ${percent(bin.right, bin.sessions)} of ${String(bin.sessions).padStart(6)}  ${"#".repeat(Math.round((40 * bin.right) / bin.sessions))}`,
    );
  }
  const settles = passesThatSettle(cells);
  const beyond = measureBeyond(sessions);
  console.log(JSON.stringify({ ...summary(cells, seconds), settles, beyond, special }));
}

function measure(
  session: SimulatedSession,
  sessions: number,
  resamples: number,
  calibration?: CalibrationBin[],
): Cell {
  const cell: Cell = {
    error: session.spacingError,
    scatter: session.scatter,
    passes: session.passes,
    poles: session.poles,
    sessions,
    said: {},
    right: 0,
    wrong: 0,
    oppositeSide: 0,
    confidentWrong: 0,
    cannotTell: 0,
    intervals: 0,
    covered: 0,
    sumErrorM: 0,
    sumAbsoluteM: 0,
    sumSquaresM: 0,
    withinCm: 0,
  };
  for (let i = 0; i < sessions; i++) {
    // Half of the sessions err to each side.
    const spacingError = i % 2 === 0 ? session.spacingError : -session.spacingError;
    const { request, trueStepM, spacingM } = simulateSession({ ...session, spacingError }, 7919 * (i + 1));
    const { verdict } = judge(request, { resamples });
    cell.said[verdict.kind] = (cell.said[verdict.kind] ?? 0) + 1;
    const silent = verdict.kind === "cannot-tell" || verdict.kind === "not-steady";
    const side = sideOf(verdict.kind);
    const mismatch = spacingM / trueStepM - 1;
    const trueSide = Math.abs(mismatch) < 1e-9 ? 0 : Math.sign(mismatch);
    const small = Math.abs(mismatch) < 0.04;
    const right = !silent && (side === trueSide || (small && side === 0));
    if (silent) cell.cannotTell++;
    if (right) cell.right++;
    if (side !== 0 && side !== trueSide) {
      cell.wrong++;
      if (trueSide !== 0) cell.oppositeSide++;
      if (verdict.confidence >= 0.8) cell.confidentWrong++;
    }
    if (!silent && calibration) {
      const bin = calibration[Math.min(9, Math.floor(verdict.confidence * 10))]!;
      bin.sessions++;
      if (right) bin.right++;
    }
    if (verdict.intervalM && verdict.fitSpacingM != null) {
      const off = verdict.fitSpacingM - trueStepM;
      cell.intervals++;
      if (verdict.intervalM[0] <= trueStepM && trueStepM <= verdict.intervalM[1]) cell.covered++;
      cell.sumErrorM += off;
      cell.sumAbsoluteM += Math.abs(off);
      cell.sumSquaresM += off * off;
      if (Math.abs(off) <= 0.01) cell.withinCm++;
    }
  }
  return cell;
}

/** −1: said to be too close, +1: too far apart, 0: neither. */
function sideOf(kind: VerdictKind): -1 | 0 | 1 {
  if (kind === "too-close" || kind === "stepped-over") return -1;
  if (kind === "too-far" || kind === "two-steps") return 1;
  return 0;
}

function printTable(cells: readonly Cell[]): void {
  console.log(
    "Right / can't tell / wrong side (any side at 0 %), per cent of sessions; rows: spacing error, columns: passes",
  );
  for (const scatter of SCATTERS) {
    for (const poles of POLES) {
      console.log(`\nstep scatter ${100 * scatter} %, ${poles} poles`);
      console.log(`  error ${PASSES.map((p) => `${p} pass${p > 1 ? "es" : "  "}`.padStart(22)).join("")}`);
      for (const error of ERRORS) {
        const row = PASSES.map((p) => {
          const c = cells.find(
            (c) => c.error === error && c.scatter === scatter && c.poles === poles && c.passes === p,
          )!;
          return `${percent(c.right, c.sessions)} ${percent(c.cannotTell, c.sessions)} ${percent(c.wrong, c.sessions)}`.padStart(
            22,
          );
        });
        console.log(`  ${(100 * error).toFixed(0).padStart(4)} %${row.join("")}`);
      }
    }
  }
}

/** Dogs and clips that are not ordinary, at 4 % scatter, 6 poles, 3 passes. */
const SPECIAL: Record<string, Partial<SimulatedSession>> = {
  "clean clip": { missed: 0, invented: 0, swapped: 0, landingNoiseM: 0.002, tapNoiseM: 0, sideDifference: 0 },
  "15 % missed": { missed: 0.15 },
  "8 % invented": { invented: 0.08 },
  "10 % swapped": { swapped: 0.1 },
  "dog corrects half of each error": { correction: 0.5 },
  "step 11 % longer onto one side": { sideDifference: 0.11 },
  "speed drifts by 4 %": { speedSd: 0.04 },
  "poles pull half of the difference": { entrainment: 0.5 },
  "starts anywhere": { startSd: 0.5 },
  "small dog, 20 cm step": { stepM: 0.2 },
  "tap noise 1.5 cm": { tapNoiseM: 0.015 },
};

function printSpecialCases(sessions: number, resamples: number): Record<string, Record<string, number>> {
  const found: Record<string, Record<string, number>> = {};
  console.log(
    "\nNot ordinary (4 % scatter, 6 poles, 3 passes): right / can't tell / wrong side at 0 and 5 % error; coverage; mean error",
  );
  for (const [name, change] of Object.entries(SPECIAL)) {
    const at = [0, 0.05].map((spacingError) =>
      measure({ ...ordinary, ...change, spacingError }, sessions, resamples),
    );
    const text = at
      .map(
        (c) =>
          `${percent(c.right, c.sessions)} ${percent(c.cannotTell, c.sessions)} ${percent(c.wrong, c.sessions)}`,
      )
      .join("  |  ");
    const covered = at.reduce((n, c) => n + c.covered, 0) / at.reduce((n, c) => n + c.intervals, 0);
    const meanCm =
      (100 * at.reduce((n, c) => n + c.sumAbsoluteM, 0)) / at.reduce((n, c) => n + c.intervals, 0);
    console.log(`  ${name.padEnd(34)} ${text}   ${(100 * covered).toFixed(1)} %  ${meanCm.toFixed(2)} cm`);
    found[name] = {
      rightAt0: share(at[0]!.right, at[0]!.sessions),
      rightAt5: share(at[1]!.right, at[1]!.sessions),
      wrong: share(at[0]!.wrong + at[1]!.wrong, 2 * sessions),
      coverage: Number(covered.toFixed(4)),
      meanAbsoluteErrorCm: Number(meanCm.toFixed(3)),
    };
  }
  return found;
}

/** Fewest passes over six poles from which on 95 verdicts in 100 are right, by scatter and spacing error; null = more than six. */
function passesThatSettle(cells: readonly Cell[]): Record<string, number | null> {
  const settles: Record<string, number | null> = {};
  console.log("\nPasses over 6 poles that settle it (95 in 100 right)");
  for (const scatter of SCATTERS) {
    const row = ERRORS.map((error) => {
      const enough = PASSES.find((passes) => {
        const c = cells.find(
          (c) => c.scatter === scatter && c.poles === 6 && c.passes === passes && c.error === error,
        )!;
        return c.right >= 0.95 * c.sessions;
      });
      settles[`scatter ${100 * scatter} %, error ${100 * error} %`] = enough ?? null;
      return `${(100 * error).toFixed(0)} %: ${enough ?? "over 6"}`;
    });
    console.log(`  scatter ${100 * scatter} %   ${row.join("   ")}`);
  }
  return settles;
}

/** What is read beside the spacing: the own step, left and right, and what a plain bootstrap would claim. */
function measureBeyond(sessions: number): Record<string, number> {
  const found: Record<string, number> = {};
  for (const stretch of [0, 0.05, 0.1]) {
    let flagged = 0;
    let read = 0;
    for (let i = 0; i < sessions; i++) {
      const { request } = simulateSession({ ...ordinary, entrainment: 1, spacingError: stretch }, 104729 + i);
      const own = judge(request, { resamples: 1 }).ownStep;
      if (own === null) continue;
      read++;
      if (own.stretchPercent.interval[0] > 0 || own.stretchPercent.interval[1] < 0) flagged++;
    }
    found[`ownStepFlaggedAtStretch${100 * stretch}`] = share(flagged, read);
  }
  for (const sideDifference of [0, 0.11]) {
    let covered = 0;
    let read = 0;
    for (let i = 0; i < sessions; i++) {
      const { request } = simulateSession({ ...ordinary, sideDifference }, 224737 + i);
      const sides = judge(request, { resamples: 1 }).leftRight;
      if (sides === null) continue;
      read++;
      const [low, high] = sides.differencePercent.interval;
      if (low <= 100 * sideDifference && 100 * sideDifference <= high) covered++;
    }
    found[`leftRightCoverageAt${100 * sideDifference}`] = share(covered, read);
  }
  for (const passes of [1, 2, 3]) {
    found[`plainBootstrapCoverage${passes}Passes`] = plainBootstrapCoverage(sessions, passes);
  }
  console.log("\nBeside the spacing");
  for (const [name, value] of Object.entries(found))
    console.log(`  ${name.padEnd(34)} ${(100 * value).toFixed(1)} %`);
  return found;
}

/** How often the percentile interval of a plain two-stage bootstrap of single steps holds the truth. */
function plainBootstrapCoverage(sessions: number, passes: number): number {
  let covered = 0;
  let read = 0;
  for (let i = 0; i < sessions; i++) {
    const { request, trueStepM, spacingM } = simulateSession({ ...ordinary, passes }, 350377 + i);
    const reading = readRow(
      request.passes.map((pass) => ({
        pass,
        row: travelRow(request.layout, pass.direction, 1),
        landings: placeLandings(pass, request.layout),
      })),
    );
    const steps = reading?.pooled.steps.filter((s) => s.length > 0) ?? [];
    if (steps.length === 0) continue;
    const means = clusterBootstrap(
      steps,
      (drawn) => {
        const all = drawn.flat();
        return all.reduce((a, b) => a + b, 0) / all.length;
      },
      400,
      seededRandom(i),
    ).toSorted((a, b) => a - b);
    read++;
    const truth = trueStepM / spacingM;
    if (means[9]! <= truth && truth <= means[390]!) covered++;
  }
  return share(covered, read);
}

function summary(cells: readonly Cell[], seconds: number) {
  const goal = cells.filter((c) => c.scatter === 0.04 && c.poles === 6 && c.passes === 3);
  const goalBeyond = goal.filter((c) => c.error >= 0.05);
  const total = (of: (c: Cell) => number, over: readonly Cell[]) => over.reduce((sum, c) => sum + of(c), 0);
  const sessions = total((c) => c.sessions, cells);
  const worst = (of: (c: Cell) => number) => {
    const c = cells.reduce((a, b) => (of(b) / b.sessions > of(a) / a.sessions ? b : a));
    return {
      share: share(of(c), c.sessions),
      error: c.error,
      scatter: c.scatter,
      passes: c.passes,
      poles: c.poles,
    };
  };
  const coverages = SCATTERS.flatMap((scatter) =>
    PASSES.map((passes) => {
      const over = cells.filter((c) => c.scatter === scatter && c.passes === passes);
      return {
        scatter,
        passes,
        coverage: share(
          total((c) => c.covered, over),
          total((c) => c.intervals, over),
        ),
      };
    }),
  );
  return {
    sessions,
    sessionsPerProcessorSecond: Math.round(sessions / seconds),
    rightFrom5Percent: share(
      total((c) => c.right, goalBeyond),
      total((c) => c.sessions, goalBeyond),
    ),
    rightAt5Percent: share(goalBeyond[0]!.right, goalBeyond[0]!.sessions),
    rightWhereItFits: share(goal[0]!.right, goal[0]!.sessions),
    worstOppositeSide: worst((c) => c.oppositeSide),
    worstConfidentWrong: worst((c) => c.confidentWrong),
    worstWrong: worst((c) => c.wrong),
    cannotTell: share(
      total((c) => c.cannotTell, cells),
      sessions,
    ),
    coverage: share(
      total((c) => c.covered, cells),
      total((c) => c.intervals, cells),
    ),
    coverages,
    goalCell: {
      biasCm: Number(((100 * total((c) => c.sumErrorM, goal)) / total((c) => c.intervals, goal)).toFixed(3)),
      meanAbsoluteErrorCm: Number(
        ((100 * total((c) => c.sumAbsoluteM, goal)) / total((c) => c.intervals, goal)).toFixed(3),
      ),
      rmsErrorCm: Number(
        (100 * Math.sqrt(total((c) => c.sumSquaresM, goal) / total((c) => c.intervals, goal))).toFixed(3),
      ),
      within1Cm: share(
        total((c) => c.withinCm, goal),
        total((c) => c.intervals, goal),
      ),
      coverage: share(
        total((c) => c.covered, goal),
        total((c) => c.intervals, goal),
      ),
    },
  };
}

function share(part: number, of: number): number {
  return of > 0 ? Number((part / of).toFixed(4)) : 0;
}

function percent(part: number, of: number): string {
  return of > 0 ? `${((100 * part) / of).toFixed(1)}`.padStart(5) : "    –";
}

function numberAfter(args: readonly string[], option: string): number | null {
  const at = args.indexOf(option);
  const value = at >= 0 ? Number(args[at + 1]) : Number.NaN;
  return Number.isFinite(value) && value > 0 ? value : null;
}
