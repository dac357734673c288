import { weightedMedian } from "../stats/theil-sen.ts";

/** One hind landing on the dog's way. The unit of `at` is the caller's (metres or slots). */
export interface Foothold {
  id: string;
  at: number;
  /** Standard error of `at`. */
  se: number;
  /** 0 to 1: that it happened. */
  probability: number;
  left: boolean;
}

/** Which landings are real and how many steps lie between them. */
export interface StepReading {
  /** Typical step, in the unit of `at`. */
  step: number;
  /** For each chain and foothold: its step number, from 0; null where it is taken for no landing at all. */
  numbers: (number | null)[][];
  /** Log-odds against the best reading whose step differs by half or more; large = unambiguous. */
  margin: number;
}

/** Chance that a real landing went unseen, that a label carries the wrong side, spread of one step (share). */
const MISSED = 0.12;
const SWAPPED = 0.04;
const SPREAD = 0.12;
/** A step length taken from speed and stride time is good to about this share. */
const HINT_SPREAD = 0.12;

interface SeenCosts {
  missed: number;
  seen: number;
}
const OPEN: SeenCosts = { missed: -Math.log(MISSED), seen: -Math.log(1 - MISSED) };
/** The far hind foot can stay hidden all through a pass (handler, lead, near legs): one pass in ten or so. */
const ONE_HIDDEN: SeenCosts = { missed: -Math.log(0.8), seen: -Math.log(1 - MISSED) };
const COST_ONE_HIDDEN = -Math.log(0.1);
const COST_SWAPPED = -Math.log(SWAPPED);
const COST_LABELLED = -Math.log(1 - SWAPPED);
const COST_PLACE = Math.log(Math.sqrt(2 * Math.PI) * SPREAD);
/** A landing out of rhythm: a real but odd step. Keeps one short step from being explained away. */
const COST_ODD = 6;

/**
 * Numbers the steps of all chains (one a pass) with one common step, by the likeliest reading: distance says how many
 * steps lie between two landings, the alternation of left and right says whether that number is odd, the landing's
 * own probability says whether it is there at all. So a landing that was missed is not read as a gap stepped over, nor
 * an invented one as two steps in a gap.
 * @param chains in order of travel
 * @param hints a step from another source (speed × half the stride time), or null
 * @returns null when no chain has two landings
 */
export function readSteps(
  chains: readonly Foothold[][],
  hints: readonly (number | null)[],
): StepReading | null {
  const readings = candidateSteps(chains, hints).map((start) => refine(chains, hints, start));
  if (readings.length === 0) return null;
  const best = readings.reduce((a, b) => (b.cost < a.cost ? b : a));
  let margin = Number.POSITIVE_INFINITY;
  for (const other of readings) {
    if (Math.abs(Math.log(other.step / best.step)) > 0.3) margin = Math.min(margin, other.cost - best.cost);
  }
  return { step: best.step, numbers: best.numbers, margin };
}

function candidateSteps(chains: readonly Foothold[][], hints: readonly (number | null)[]): number[] {
  const between: number[] = [];
  const sameSide: number[] = [];
  for (const chain of chains) {
    for (let i = 1; i < chain.length; i++) {
      const distance = chain[i]!.at - chain[i - 1]!.at;
      if (distance <= 0) continue;
      between.push(distance);
      if (chain[i]!.left === chain[i - 1]!.left) sameSide.push(distance);
    }
  }
  if (between.length === 0) return [];
  between.sort((a, b) => a - b);
  const middle = between[Math.floor(between.length / 2)]!;
  const candidates = [middle, middle / 2, between[Math.floor(between.length / 4)]!];
  if (between.length > 3) candidates.push(between[Math.floor((3 * between.length) / 4)]!);
  if (sameSide.length > 0) candidates.push(weightedMedian(sameSide) / 2);
  const known = hints.filter((h) => h !== null);
  if (known.length > 0) candidates.push(weightedMedian(known));
  const apart: number[] = [];
  for (const c of candidates) {
    if (c > 0 && apart.every((a) => Math.abs(Math.log(a / c)) > 0.08)) apart.push(c);
  }
  return apart;
}

interface CostedReading {
  step: number;
  numbers: (number | null)[][];
  cost: number;
}

function refine(
  chains: readonly Foothold[][],
  hints: readonly (number | null)[],
  start: number,
): CostedReading {
  let reading = numberAll(chains, hints, start);
  const unit = typicalStep(chains, reading.numbers);
  if (unit !== null && Math.abs(unit / start - 1) > 0.005) reading = numberAll(chains, hints, unit);
  return reading;
}

function typicalStep(chains: readonly Foothold[][], numbers: readonly (number | null)[][]): number | null {
  const steps: number[] = [];
  const counts: number[] = [];
  chains.forEach((chain, c) => {
    let before = -1;
    chain.forEach((foot, i) => {
      const number = numbers[c]![i];
      if (number === null || number === undefined) return;
      if (before >= 0) {
        const apart = number - numbers[c]![before]!;
        steps.push((foot.at - chain[before]!.at) / apart);
        counts.push(1 / apart);
      }
      before = i;
    });
  });
  return steps.length > 0 ? weightedMedian(steps, counts) : null;
}

function numberAll(
  chains: readonly Foothold[][],
  hints: readonly (number | null)[],
  step: number,
): CostedReading {
  let cost = 0;
  const numbers = chains.map((chain, c) => {
    const one = numberChain(chain, step);
    cost += one.cost;
    const hint = hints[c];
    // One clip's stride times are one measurement, not one a pass.
    if (hint) cost += (Math.log(step / hint) / HINT_SPREAD) ** 2 / 2 / chains.length;
    return one.numbers;
  });
  return { step, numbers, cost };
}

/**
 * Cheapest path through one chain: every landing is either kept, a whole number of steps on from the last and truly on
 * one side (whatever its label says), or dropped. State 2i is "landing i, a left one", 2i + 1 "a right one".
 */
function numberChain(chain: readonly Foothold[], step: number): NumberedChain {
  const open = cheapestPath(chain, step, OPEN);
  let same = 0;
  for (let i = 1; i < chain.length; i++) if (chain[i]!.left === chain[i - 1]!.left) same++;
  if (2 * same < chain.length) return open;
  const hidden = cheapestPath(chain, step, ONE_HIDDEN);
  hidden.cost += COST_ONE_HIDDEN;
  return hidden.cost < open.cost ? hidden : open;
}

interface NumberedChain {
  numbers: (number | null)[];
  cost: number;
}

function cheapestPath(chain: readonly Foothold[], step: number, costs: SeenCosts): NumberedChain {
  const n = chain.length;
  const dropsBefore = new Float64Array(n + 1);
  chain.forEach((f, i) => {
    dropsBefore[i + 1] = dropsBefore[i]! - Math.log(1 - clampProbability(f.probability));
  });
  const best = new Float64Array(2 * n);
  const from = new Int32Array(2 * n).fill(-1);
  const apart = new Int32Array(2 * n);
  for (let i = 0; i < n; i++) {
    const keep = -Math.log(clampProbability(chain[i]!.probability));
    const asLeft = keep + (chain[i]!.left ? COST_LABELLED : COST_SWAPPED);
    const asRight = keep + (chain[i]!.left ? COST_SWAPPED : COST_LABELLED);
    best[2 * i] = dropsBefore[i]! + asLeft;
    best[2 * i + 1] = dropsBefore[i]! + asRight;
    for (let k = 0; k < i; k++) {
      const steps = (chain[i]!.at - chain[k]!.at) / step;
      if (steps < 0.3 || steps > 6) continue;
      const whole = Math.max(1, Math.round(steps));
      const off = (steps - whole) / SPREAD;
      const move =
        dropsBefore[i]! -
        dropsBefore[k + 1]! +
        Math.min(COST_ODD, (off * off) / (2 * whole)) +
        Math.log(whole) / 2 +
        COST_PLACE +
        (whole - 1) * costs.missed +
        costs.seen;
      for (const side of [0, 1]) {
        const before = 2 * k + ((side + whole) % 2);
        const cost = best[before]! + move + (side === 0 ? asLeft : asRight);
        if (cost < best[2 * i + side]!) {
          best[2 * i + side] = cost;
          from[2 * i + side] = before;
          apart[2 * i + side] = whole;
        }
      }
    }
  }
  let end = -1;
  let cost = dropsBefore[n]!;
  for (let state = 0; state < 2 * n; state++) {
    const total = best[state]! + dropsBefore[n]! - dropsBefore[(state >> 1) + 1]!;
    if (total < cost) {
      cost = total;
      end = state;
    }
  }
  const numbers: (number | null)[] = chain.map(() => null);
  const path: number[] = [];
  for (let state = end; state >= 0; state = from[state]!) path.push(state);
  let number = 0;
  for (const state of path.reverse()) {
    number += apart[state]!;
    numbers[state >> 1] = number;
  }
  return { numbers, cost };
}

function clampProbability(p: number): number {
  return Math.min(0.98, Math.max(0.05, p));
}
