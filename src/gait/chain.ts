import { weightedMedian as median, theilSen } from "../stats/theil-sen.ts";
import type { Stand } from "./stands.ts";

/** A stand that belongs to the alternating sequence of one pair of feet. */
export interface Link {
  stand: Stand;
  /** 0 or 1: which of the two feet, left and right not yet known. */
  parity: 0 | 1;
  /** Steps since the link before: 1, or 2 and more where landings were missed. */
  stepsSince: number;
  /** Distance from where the steady step would have put it, in units of the allowed scatter. */
  surprise: number;
}

export interface Chain {
  links: Link[];
  /** Step of this pair of feet, metres, and the time it takes, seconds; 0 with fewer than two links. */
  stepM: number;
  stepS: number;
  score: number;
}

/** How freely steps may differ from the common step, as a share of it. Design choice: sound dogs vary 7–8 %. */
const STEP_SCATTER = 0.16;
/** Likewise for the time between touch-downs. */
const TIME_SCATTER = 0.22;
/** What it costs, in units of log odds, to say that a landing was missed. */
const MISS_COST = 1.6;
const MOST_MISSED = 2;
/** A stand must bring more than this to be worth having. */
const ENTRY_COST = 0.5;

/** What stood still, of one pair of feet. */
export interface StandsOfPair {
  stands: Stand[];
  /** The end of its stances that is known best. */
  timedBy: "touch-down" | "lift-off";
}

/**
 * Picks, from everything that stood still, the sequences that the hind and the fore feet taking turns would leave: each
 * step about as long and as quick as the others, and as long behind as in front, for it is one dog. Every step length
 * is tried, and the best-scoring two sequences win (dynamic programming over stands in time order).
 */
export function chainStands<Pair extends string>(
  pairs: Record<Pair, StandsOfPair>,
  direction: 1 | -1,
  speedMps: number,
): Record<Pair, Chain> {
  const names = Object.keys(pairs) as Pair[];
  const read = names.map((name) => inOrder(pairs[name]));
  let best = read.map(() => NO_CHAIN);
  for (let stepM = 0.1; stepM < 1.3; stepM *= 1.04) {
    const chains = read.map((pair) => bestChain(pair, direction, stepM, stepM / speedMps));
    if (scoreOf(chains) > scoreOf(best)) best = chains;
  }
  // Once more around the steps really taken: the grid of step lengths is coarse.
  const finest = best.map((chain, i) => {
    if (chain.links.length < 3) return chain;
    const again = bestChain(read[i]!, direction, chain.stepM, chain.stepS);
    return again.score >= chain.score ? again : chain;
  });
  return Object.fromEntries(names.map((name, i) => [name, finest[i]!])) as Record<Pair, Chain>;
}

const NO_CHAIN: Chain = { links: [], stepM: 0, stepS: 0, score: 0 };
const scoreOf = (chains: Chain[]) => chains.reduce((sum, chain) => sum + chain.score, 0);

interface InOrder {
  inTime: Stand[];
  worth: number[];
  clock: (stand: Stand) => number;
}

function inOrder({ stands, timedBy }: StandsOfPair): InOrder {
  const clock = (s: Stand) => (timedBy === "touch-down" ? s.onS : s.offS);
  const inTime = [...stands].sort((a, b) => clock(a) - clock(b));
  const usual = inTime.length > 0 ? median(inTime.map((s) => s.offS - s.onS)) : 1;
  const worth = inTime.map(
    (s) => 4 * s.strength * Math.min(1, (s.offS - s.onS) / Math.max(usual, 1e-6)) - ENTRY_COST,
  );
  return { inTime, worth, clock };
}

function bestChain(
  { inTime, worth, clock }: InOrder,
  direction: 1 | -1,
  stepM: number,
  stepS: number,
): Chain {
  const score = worth.slice();
  const from = inTime.map(() => -1);
  const steps = inTime.map(() => 1);
  const surprises = inTime.map(() => 0);
  for (let i = 0; i < inTime.length; i++) {
    for (let j = 0; j < i; j++) {
      const dx = (inTime[i]!.xM - inTime[j]!.xM) * direction;
      const dt = clock(inTime[i]!) - clock(inTime[j]!);
      if (dx < 0.3 * stepM || dt < 0.3 * stepS) continue;
      for (let k = 1; k <= 1 + MOST_MISSED; k++) {
        const zx = (dx - k * stepM) / (STEP_SCATTER * stepM * Math.sqrt(k));
        const zt = (dt - k * stepS) / (TIME_SCATTER * stepS * Math.sqrt(k));
        // Heavy tails: one odd step must not break a chain that is right everywhere else.
        const cost = 1.5 * Math.log1p((zx * zx + zt * zt) / 3) + MISS_COST * (k - 1);
        const total = score[j]! + worth[i]! - cost;
        if (total > score[i]!) {
          score[i] = total;
          from[i] = j;
          steps[i] = k;
          surprises[i] = Math.sqrt(zx * zx + zt * zt);
        }
      }
    }
  }
  let end = -1;
  for (let i = 0; i < inTime.length; i++) {
    if (score[i]! > 0 && (end < 0 || score[i]! > score[end]!)) end = i;
  }
  const path: number[] = [];
  for (let i = end; i >= 0; i = from[i]!) path.unshift(i);
  let parity: 0 | 1 = 0;
  const links = path.map((index, n): Link => {
    const k = n === 0 ? 0 : steps[index]!;
    if (k % 2 === 1) parity = parity === 0 ? 1 : 0;
    return { stand: inTime[index]!, parity, stepsSince: k, surprise: n === 0 ? 0 : surprises[index]! };
  });
  // Over the whole chain at once: a slope forgives an odd touch-down that single differences count twice.
  let count = 0;
  const numbers = links.map((link) => {
    count += link.stepsSince;
    return count;
  });
  const over = (values: number[]) => (links.length > 1 ? theilSen(numbers, values).slope : 0);
  return {
    links,
    stepM: over(links.map((l) => l.stand.xM * direction)),
    stepS: over(links.map((l) => clock(l.stand))),
    score: end >= 0 ? score[end]! : 0,
  };
}
