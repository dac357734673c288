import { Matrix, solve } from "ml-matrix";
import { weightedMedian as median, theilSen } from "../stats/theil-sen.ts";
import { type Chain, chainStands, type Link } from "./chain.ts";
import type { GaitEvidence } from "./evidence.ts";
import { nameGait } from "./measures.ts";
import { type BodyPath, splitPasses } from "./passes.ts";
import { findStands, type Stand, type WeighedPoint } from "./stands.ts";
import type { Landing, Pass, Paw, PawCandidate, SetAside } from "./types.ts";

/** A held place may wander by this much along the row from frame to frame, metres (network grid + roll of the paw). */
const REACH_X_M = 0.035;
/** Across the row a phone near the ground sees far worse. */
const REACH_Y_M = 0.14;
/** Sightings this much outside the pass still count: the dog's box is cut by the picture's edge there. */
const EDGE_S = 0.7;
/** How sharply "ahead of the body's middle" tells fore from hind, as a share of the dog's extent. */
const BODY_SHARPNESS = 0.05;
/** A stance goes on through this long without a sighting (a pole hides the paw, a frame is blurred), at least ... */
const HOLE_S = 0.09;
/** ... and through the time in which the body moves on by this much, metres: stances last longer in a slow dog. */
const HOLE_M = 0.15;
/** Fewer hind landings say nothing of a change of speed. */
const FEWEST_FOR_PACE = 6;
/** Fewer landings show no track. */
const FEWEST_FOR_TRACK = 4;
/** How far beside their track single landings lie, and how well it is known itself, metres together. From memory. */
const TRACK_SD_M = 0.012;
/** Metres across per metre along. */
const STEEPEST_COURSE = 0.12;
/** How well one landing is placed across the row, metres. */
const SIDE_SD_M = 0.04;
/** A hind foot this near to a fore print, as a share of the step, has landed "in" it. */
const IN_PRINT = 0.3;
/** Votes (of half a point a sighting at most) that it takes to give part of a stance to the other pair of feet. */
const SURE_FOREIGN = 0.6;
/** A sighting less likely than this to be of the pair of feet looked for says nothing of it. */
const BELONGS = 0.35;
const LEAST_WEIGHT = 0.04;
/** Distance across the row between the tracks of left and right feet: about this in most dogs. Common practice, no source. */
const TRACK_WIDTH_M = 0.1;
/** How much dogs differ in it, and how well one pass shows it, metres. Design choice. */
const TRACK_WIDTH_SD_M = 0.03;
const TRACK_MEASURED_SD_M = 0.04;

/**
 * Finds the landings of all four feet, pass by pass. Pure: the same evidence gives the same landings.
 *
 * @param underWay Whether more evidence is to come: what is found may then still move, or turn out to be nothing.
 */
export function findLandings(
  evidence: GaitEvidence,
  underWay = false,
): { passes: Pass[]; setAside: SetAside[] } {
  const { paths, setAside } = splitPasses(evidence.body, underWay);
  const passes: Pass[] = [];
  paths.forEach((path, index) => {
    const before = paths[index - 1];
    const after = paths[index + 1];
    const fromS = Math.max(path.startS - EDGE_S, before ? (before.endS + path.startS) / 2 : -Infinity);
    const toS = Math.min(path.endS + EDGE_S, after ? (path.endS + after.startS) / 2 : Infinity);
    const pass = readPass(evidence, path, fromS, toS, passes.length);
    if (pass.landings.length > 0) passes.push(pass);
    else {
      setAside.push({
        startS: path.startS,
        endS: path.endS,
        reason: "Something moves through here, but no paw was seen standing still on the ground.",
      });
    }
  });
  return { passes, setAside: setAside.sort((a, b) => a.startS - b.startS) };
}

function readPass(evidence: GaitEvidence, path: BodyPath, fromS: number, toS: number, index: number): Pass {
  const times = evidence.frameTimesS;
  const near = evidence.candidates
    .filter(
      (c) =>
        c.timeS >= fromS &&
        c.timeS <= toS &&
        Math.abs(c.xM - path.xAt(c.timeS)) < 0.75 * path.lengthM + 0.1 &&
        c.score > 0.05,
    )
    // Which way is ahead is known only now; looks at one stance may lie ahead of it by different lengths.
    .map((c) => (c.aheadM ? { ...c, xM: c.xM - c.aheadM * path.direction } : c));
  const lane = laneOf(near);
  const own = near.filter((c) => Math.abs(c.yM - lane) < 0.3);
  const boundary = foreHindBoundary(own, path);
  const stands = (hind: boolean) => {
    const points = own
      .map((c) => weighed(c, hindOdds(c, path, boundary), hind))
      .filter((p) => p.belongs > BELONGS && p.weight > LEAST_WEIGHT);
    const frameS = times.length > 1 ? (times[times.length - 1]! - times[0]!) / (times.length - 1) : 1 / 30;
    return findStands(points, times, {
      reachXM: REACH_X_M,
      reachYM: REACH_Y_M,
      holeS: Math.max(HOLE_S, HOLE_M / path.speedMps, 3.2 * frameS),
      shortestS: Math.max(0.055, 2.5 * frameS),
      speedMps: path.speedMps,
      direction: path.direction,
    })
      .map((s) => ownTime(s, own, hind, times))
      .map((s) => sharpened(s, own, path));
  };
  // At one place a fore stance comes before the hind stance: lift-off is the cleaner end of a hind stance,
  // touch-down that of a fore stance.
  const chains = chainStands(
    {
      hind: { stands: stands(true), timedBy: "lift-off" },
      fore: { stands: stands(false), timedBy: "touch-down" },
    },
    path.direction,
    path.speedMps,
  );
  const { hind, fore } = onTheirTracks(chains);
  const sides = tellSides(hind, fore, path.direction * (evidence.xRunsRight ? 1 : -1) > 0);
  const pace = paceOf(hind, path.direction) ?? {
    speedMps: path.speedMps,
    accelerationMps2: path.accelerationMps2,
  };
  const landings = [
    ...landingsOf(hind, "H", sides.hind, sides.certainty, `p${index}`),
    ...landingsOf(fore, "F", sides.fore, sides.certainty, `p${index}`),
  ].sort((a, b) => a.onS - b.onS);
  const strideTimeS = hind.stepS > 0 ? 2 * hind.stepS : null;
  const phase = strideTimeS === null ? null : limbPhase(landings, strideTimeS);
  const dutyFactor =
    strideTimeS === null ? null : median(hind.links.map((l) => l.stand.offS - l.stand.onS)) / strideTimeS;
  return {
    id: `p${index}`,
    startS: path.startS,
    endS: path.endS,
    direction: path.direction,
    landings,
    ...pace,
    gait: nameGait({ limbPhase: phase, dutyFactor, speedMps: pace.speedMps }),
    strideTimeS,
    limbPhase: phase,
    dutyFactor,
  };
}

/** The line across the row along which the dog walks: where most of what was surely seen lies. */
function laneOf(candidates: PawCandidate[]): number {
  const weights = candidates.map((c) => c.score * c.score * c.contact);
  let best = 0;
  let most = -1;
  for (let i = 0; i < candidates.length; i += Math.max(1, Math.floor(candidates.length / 200))) {
    const yM = candidates[i]!.yM;
    let sum = 0;
    candidates.forEach((c, j) => {
      sum += weights[j]! * Math.exp(-(((c.yM - yM) / TRACK_WIDTH_M) ** 2));
    });
    if (sum > most) {
      most = sum;
      best = yM;
    }
  }
  return best;
}

/** A paw's place ahead of the body's middle (positive) or behind it, metres. */
const ahead = (c: PawCandidate, path: BodyPath) => (c.xM - path.xAt(c.timeS)) * path.direction;

/**
 * Where along the body "fore" begins. The box of a dog reaches from nose to tail, so its middle is not the
 * middle between the feet; the network's own fore/hind opinion over the whole pass tells by how much it is off.
 */
function foreHindBoundary(candidates: PawCandidate[], path: BodyPath): number {
  const told = candidates.filter((c) => Math.abs(c.hind - 0.5) > 0.1);
  if (told.length < 20) return 0;
  const places = told.map((c) => ahead(c, path));
  let best = 0;
  let bestScore = -Infinity;
  for (let share = -0.3; share <= 0.3001; share += 0.02) {
    const at = share * path.lengthM;
    let score = 0;
    told.forEach((c, i) => {
      score += c.score * (c.hind - 0.5) * Math.tanh((at - places[i]!) / (BODY_SHARPNESS * path.lengthM));
    });
    // Among equals, the middle.
    score *= 1 - 0.1 * Math.abs(share);
    if (score > bestScore) {
      bestScore = score;
      best = at;
    }
  }
  return best;
}

function hindOdds(c: PawCandidate, path: BodyPath, boundary: number): number {
  const told = Math.min(0.95, Math.max(0.05, c.hind));
  const place = (boundary - ahead(c, path)) / (BODY_SHARPNESS * path.lengthM);
  return 1 / (1 + Math.exp(-place - Math.log(told / (1 - told))));
}

function weighed(
  c: PawCandidate,
  hindProbability: number,
  hind: boolean,
): WeighedPoint & { belongs: number } {
  const contact = 0.4 + 1.2 * Math.min(0.5, c.contact);
  const belongs = hind ? hindProbability : 1 - hindProbability;
  return {
    frame: c.frame,
    timeS: c.timeS,
    xM: c.xM,
    yM: c.yM,
    belongs,
    weight: c.score * contact * belongs,
    xSeM: c.xSeM,
    ySeM: c.ySeM,
    xPerY: c.xPerY,
  };
}

/**
 * A hind foot often lands in the print that the fore foot has just left. Where what the network saw at a place
 * turns from fore to hind, one stance ends and the other begins: only the part of the own pair of feet is kept.
 */
function ownTime(stand: Stand, candidates: PawCandidate[], hind: boolean, timesS: number[]): Stand {
  const here = candidates.filter(
    (c) =>
      c.frame >= stand.firstFrame &&
      c.frame <= stand.lastFrame &&
      c.source === "network" &&
      Math.abs(c.xM - stand.xM) <= REACH_X_M &&
      Math.abs(c.yM - stand.yM) <= REACH_Y_M,
  );
  const votes = here.map((c) => c.score * (hind ? c.hind - 0.5 : 0.5 - c.hind));
  // Of a hind stance the foreign part is at its beginning, of a fore stance at its end.
  const order = votes.map((_, i) => (hind ? i : votes.length - 1 - i));
  let foreign = 0;
  let most = 0;
  let cut = 0;
  order.forEach((i, n) => {
    foreign -= votes[i]!;
    if (foreign > most) {
      most = foreign;
      cut = n + 1;
    }
  });
  if (most < SURE_FOREIGN || cut >= order.length) return stand;
  const edge = here[order[cut]!]!;
  const halfFrameS = (timesS[1]! - timesS[0]!) / 2;
  return hind
    ? { ...stand, firstFrame: edge.frame, onS: edge.timeS - halfFrameS }
    : { ...stand, lastFrame: edge.frame, offS: edge.timeS + halfFrameS };
}

/**
 * Touch-down and lift-off below the frame grid: the swinging paw is looked for just before and after the stand,
 * and the moment at which it crossed the stand's reach is interpolated.
 */
function sharpened(stand: Stand, candidates: PawCandidate[], path: BodyPath): Stand {
  const within = candidates.filter(
    (c) =>
      c.frame >= stand.firstFrame - 3 && c.frame <= stand.lastFrame + 3 && Math.abs(c.yM - stand.yM) < 0.3,
  );
  const crossing = (edgeFrame: number, edgeS: number, side: -1 | 1): number | null => {
    const inside = within
      .filter((c) => c.frame === edgeFrame)
      .map((c) => Math.abs(c.xM - stand.xM))
      .filter((d) => d <= REACH_X_M);
    let out: { timeS: number; d: number } | null = null;
    for (const c of within) {
      const steps = (c.frame - edgeFrame) * side;
      const d = (c.xM - stand.xM) * side * path.direction;
      if (steps < 1 || steps > 3 || d <= REACH_X_M || d > 6 * path.speedMps * Math.abs(c.timeS - edgeS))
        continue;
      if (!out || Math.abs(c.timeS - edgeS) < Math.abs(out.timeS - edgeS)) out = { timeS: c.timeS, d };
    }
    if (!out || inside.length === 0) return null;
    const d0 = Math.min(...inside);
    return edgeS + ((out.timeS - edgeS) * (REACH_X_M - d0)) / (out.d - d0);
  };
  const firstS = within.find((c) => c.frame === stand.firstFrame)?.timeS;
  const lastS = within.find((c) => c.frame === stand.lastFrame)?.timeS;
  return {
    ...stand,
    onS: (firstS !== undefined ? crossing(stand.firstFrame, firstS, -1) : null) ?? stand.onS,
    offS: (lastS !== undefined ? crossing(stand.lastFrame, lastS, 1) : null) ?? stand.offS,
  };
}

interface BothChains {
  hind: Chain;
  fore: Chain;
}

/**
 * A paw half hidden by a pole or by grass is marked too high in the picture, which puts it too far away and, seen
 * aslant, too far along. But a dog's feet keep to two tracks, the hind feet to those of the fore feet: each landing
 * slides along its line of sight towards the track of its own side, the farther the less sure its depth is.
 */
function onTheirTracks({ hind, fore }: BothChains): BothChains {
  const pairs = { hind: sidesOf(hind), fore: sidesOf(fore) };
  const placed = [...(pairs.hind?.links ?? []), ...(pairs.fore?.links ?? [])];
  if (placed.length === 0) return { hind: asSeen(hind), fore: asSeen(fore) };
  const { slope } = theilSen(
    placed.map((l) => l.xM),
    placed.map((l) => l.yM - l.seenBeyond),
  );
  // A dog led along a row hardly crosses it: a steeper course is noise.
  const course = Math.abs(slope) < STEEPEST_COURSE ? slope : 0;
  // The near feet are seen best: they carry the level, and the far track lies a dog's width behind it.
  const level = median(placed.filter((l) => l.beyond === 0).map((l) => l.yM - course * l.xM));
  const slid = (chain: Chain, pair: ReturnType<typeof sidesOf>): Chain =>
    pair === null
      ? asSeen(chain)
      : withStands(chain, (stand, i) => {
          const track = level + course * stand.xM + pair.links[i]!.beyond;
          const trust = stand.ySeM ** 2 / (stand.ySeM ** 2 + TRACK_SD_M ** 2);
          const dy = trust * (track - stand.yM);
          const ySeM = Math.sqrt(trust) * TRACK_SD_M;
          return {
            xM: stand.xM + stand.xPerY * dy,
            yM: stand.yM + dy,
            xSeM: Math.hypot(stand.xSeM, stand.xPerY * ySeM),
            ySeM,
          };
        });
  return { hind: slid(hind, pairs.hind), fore: slid(fore, pairs.fore) };
}

/** Landings left where they were seen: how well their depth is known counts in full. */
const asSeen = (chain: Chain): Chain =>
  withStands(chain, ({ xSeM, ySeM, xPerY }) => ({ xSeM: Math.hypot(xSeM, xPerY * ySeM) }));

const withStands = (chain: Chain, change: (stand: Stand, index: number) => Partial<Stand>): Chain => ({
  ...chain,
  links: chain.links.map((link, i) => ({ ...link, stand: { ...link.stand, ...change(link.stand, i) } })),
});

/**
 * Which landings of a chain lie on the far side, how far beyond the near ones they were seen and are taken to be; null
 * where too few show it.
 */
function sidesOf({ links }: Chain) {
  if (links.length < FEWEST_FOR_TRACK) return null;
  const ys = links.map((l) => l.stand.yM);
  const [even, odd] = [0, 1].map((parity) => ys.filter((_, i) => links[i]!.parity === parity)) as [
    number[],
    number[],
  ];
  const both = even.length > 1 && odd.length > 1;
  const nearParity = both && median(even) > median(odd) ? 1 : 0;
  const seen = both ? Math.abs(median(odd) - median(even)) : 0;
  const apart = both ? trackWidth(seen) : 0;
  return {
    links: links.map(({ stand, parity }) => {
      const far = both && parity !== nearParity;
      return { xM: stand.xM, yM: stand.yM, seenBeyond: far ? seen : 0, beyond: far ? apart : 0 };
    }),
  };
}

/**
 * Speed at the middle of the pass and its change, from where and when the hind feet left the ground: a parabola by
 * least squares. The dog's box says less, for it is cut where the dog enters and leaves the picture. Null with too
 * few landings to tell a change of speed from chance.
 */
function paceOf(chain: Chain, direction: 1 | -1): { speedMps: number; accelerationMps2: number } | null {
  const { links } = chain;
  if (links.length < FEWEST_FOR_PACE) return null;
  const times = links.map((l) => l.stand.offS);
  const middle = (times[0]! + times.at(-1)!) / 2;
  const powers = new Matrix(times.map((t) => [1, t - middle, (t - middle) ** 2]));
  const places = Matrix.columnVector(links.map((l) => l.stand.xM * direction));
  const parabola = solve(powers, places).to1DArray();
  return { speedMps: parabola[1]!, accelerationMps2: 2 * parabola[2]! };
}

/**
 * Distance between the two tracks: what was measured, drawn towards what dogs have, for far feet stand half hidden
 * behind near ones and are marked too far away. Weighted by the variances of both.
 */
function trackWidth(measuredM: number): number {
  const [measured, usual] = [1 / TRACK_MEASURED_SD_M ** 2, 1 / TRACK_WIDTH_SD_M ** 2];
  return (measuredM * measured + TRACK_WIDTH_M * usual) / (measured + usual);
}

interface Sides {
  /** Side of parity 0 in the hind and in the fore chain. */
  hind: "L" | "R";
  fore: "L" | "R";
  /** 0.5 to 1. */
  certainty: number;
}

/**
 * Which foot is the left one. Two witnesses: feet on the near side stand nearer to the camera, and a hind foot
 * lands at or near the print that the fore foot of its own side has just left.
 */
function tellSides(hind: Chain, fore: Chain, nearIsRight: boolean): Sides {
  const evidence = { hind: nearness(hind), fore: nearness(fore), same: sameSide(hind, fore) };
  // Log odds of the four ways to name the two chains.
  const ways = [1, -1].flatMap((h) =>
    [1, -1].map((f) => ({ h, f, odds: (h * evidence.hind + f * evidence.fore + h * f * evidence.same) / 2 })),
  );
  ways.sort((a, b) => b.odds - a.odds);
  const best = ways[0]!;
  const rival = ways.find((w) => w.h !== best.h)!;
  const near = nearIsRight ? "R" : "L";
  const far = nearIsRight ? "L" : "R";
  return {
    hind: best.h > 0 ? near : far,
    fore: best.f > 0 ? near : far,
    certainty: 1 / (1 + Math.exp(rival.odds - best.odds)),
  };
}

/**
 * Log odds that parity 0 of a chain is the near side: how much nearer its landings lie than those just before and
 * after, so that a dog that wanders across the row does not mislead.
 */
function nearness(chain: Chain): number {
  const apart: number[] = [];
  for (let n = 1; n < chain.links.length; n++) {
    const [a, b] = [chain.links[n - 1]!, chain.links[n]!];
    if (a.parity === b.parity) continue;
    const c = chain.links[n + 1];
    const before = c && c.parity === a.parity ? (a.stand.yM + c.stand.yM) / 2 : a.stand.yM;
    apart.push((b.stand.yM - before) * (b.parity === 1 ? 1 : -1));
  }
  if (apart.length === 0) return 0;
  const middle = median(apart);
  const spread = 1.5 * median(apart.map((d) => Math.abs(d - middle)));
  const sd = Math.max(SIDE_SD_M, spread);
  // Two normal distributions a track's width apart; neighbours share landings, so only half of them are new.
  return (2 * middle * TRACK_WIDTH_M * (apart.length / 2)) / (2 * sd * sd);
}

/** Log odds that parity 0 of the hind chain and parity 0 of the fore chain are the same side of the dog. */
function sameSide(hind: Chain, fore: Chain): number {
  if (hind.stepM === 0 || fore.stepM === 0) return 0;
  let odds = 0;
  for (const h of hind.links) {
    const print = fore.links
      .filter((f) => f.stand.onS < h.stand.onS)
      .map((f) => ({ f, off: Math.abs(f.stand.xM - h.stand.xM) / hind.stepM }))
      .sort((a, b) => a.off - b.off)[0];
    // Dogs that overstep far (pace, amble) land between the prints of both fore feet: no telling there.
    if (!print || print.off > IN_PRINT) continue;
    const left = (print.f.stand.offS - h.stand.onS) / (2 * hind.stepS);
    if (left > 0.2) continue;
    odds += (print.f.parity === h.parity ? 1 : -1) * (1 - print.off / IN_PRINT);
  }
  return 2 * odds;
}

function landingsOf(
  chain: Chain,
  pair: "H" | "F",
  even: "L" | "R",
  sideCertainty: number,
  prefix: string,
): Landing[] {
  const usual = chain.links.length > 0 ? median(chain.links.map((l) => l.stand.offS - l.stand.onS)) : 1;
  const odd = even === "L" ? "R" : "L";
  return chain.links.map((link, n) => {
    const paw = `${link.parity === 0 ? even : odd}${pair}` as Paw;
    return {
      id: `${prefix}-${pair}${n}`,
      paw,
      onS: link.stand.onS,
      offS: link.stand.offS,
      xM: link.stand.xM,
      yM: link.stand.yM,
      xSeM: link.stand.xSeM,
      probability: existence(link, usual) * (0.7 + 0.3 * (2 * sideCertainty - 1)),
      source: "automatic",
    };
  });
}

/** 0 to 1: that a foot really stood here, from how well it was seen and how well it fits the rhythm. */
function existence(link: Link, usualS: number): number {
  const length = Math.min(1, (link.stand.offS - link.stand.onS) / usualS);
  const seen = link.stand.strength * length;
  return 1 / (1 + Math.exp(-(9 * seen - 1.2 - 0.25 * link.surprise ** 2)));
}

/** Circular mean over strides of (fore touch-down − preceding touch-down of the same side's hind foot) / stride. */
function limbPhase(landings: Landing[], strideS: number): number | null {
  if (!(strideS > 0)) return null;
  let c = 0;
  let s = 0;
  for (const hind of landings.filter((l) => l.paw[1] === "H")) {
    for (const fore of landings.filter((l) => l.paw === `${hind.paw[0]}F`)) {
      const share = (fore.onS - hind.onS) / strideS;
      if (share < -0.5 || share >= 0.5) continue;
      c += Math.cos(2 * Math.PI * share);
      s += Math.sin(2 * Math.PI * share);
    }
  }
  if (Math.hypot(c, s) < 1e-9) return null;
  return (Math.atan2(s, c) / (2 * Math.PI) + 1) % 1;
}
