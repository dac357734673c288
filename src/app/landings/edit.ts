import { linearRegression, median } from "simple-statistics";
import type { Landing, Pass, Paw } from "../../gait/types.ts";

/** A landing farther than this from every pass in time starts a pass of its own. Seconds; a choice of ours. */
const passMarginS = 0.8;
/** Stance of a new landing where nothing is known of this dog's: between a brisk walk and a slow trot. Seconds. */
const usualStanceS = 0.25;

/** The shortest stance that can be set, seconds. */
const shortestStanceS = 0.01;

export interface Placed {
  pass: Pass;
  landing: Landing;
}

export function findLanding(passes: readonly Pass[], id: string | null): Placed | null {
  if (id === null) return null;
  for (const pass of passes) {
    const landing = pass.landings.find((one) => one.id === id);
    if (landing) return { pass, landing };
  }
  return null;
}

/** The pass that a time belongs to: within it, or no farther from it than a margin; null when none is near. */
export function passAt(passes: readonly Pass[], timeS: number, marginS = passMarginS): Pass | null {
  let nearest: Pass | null = null;
  let distance = marginS;
  for (const pass of passes) {
    const away = Math.max(pass.startS - timeS, timeS - pass.endS, 0);
    if (away <= distance) {
      nearest = pass;
      distance = away;
    }
  }
  return nearest;
}

/** The landing that follows in time (by mid-stance), or the one before; null at either end. */
export function nextLanding(passes: readonly Pass[], timeS: number, by: 1 | -1): Landing | null {
  const middle = (one: Landing) => (one.onS + one.offS) / 2;
  const ordered = passes.flatMap((pass) => pass.landings).sort((a, b) => middle(a) - middle(b));
  return by === 1
    ? (ordered.find((one) => middle(one) > timeS) ?? null)
    : (ordered.findLast((one) => middle(one) < timeS) ?? null);
}

/** Adds a landing seen at mid-stance at `timeS`; its stance is as long as this dog's usually are. */
export function addLanding(
  passes: readonly Pass[],
  seen: { id: string; paw: Paw; timeS: number; xM: number; yM: number; xSeM: number },
): Pass[] {
  const stances = passes.flatMap((pass) => pass.landings.map((one) => one.offS - one.onS));
  const half = (stances.length > 0 ? median(stances) : usualStanceS) / 2;
  const landing: Landing = {
    id: seen.id,
    paw: seen.paw,
    onS: Math.max(0, seen.timeS - half),
    offS: seen.timeS + half,
    xM: seen.xM,
    yM: seen.yM,
    xSeM: seen.xSeM,
    probability: 1,
    source: "hand",
  };
  const host = passAt(passes, seen.timeS);
  if (host) return replacePass(passes, { ...host, landings: [...host.landings, landing] });
  const fresh: Pass = {
    id: `hand-${seen.id}`,
    startS: landing.onS,
    endS: landing.offS,
    direction: 1,
    landings: [landing],
    speedMps: 0,
    accelerationMps2: 0,
    gait: "unclear",
    strideTimeS: null,
    limbPhase: null,
    dutyFactor: null,
  };
  return [...passes, fresh].sort((a, b) => a.startS - b.startS);
}

/** Changes a landing by hand: from then on it is a landing by hand, and certain. */
export function changeLanding(
  passes: readonly Pass[],
  id: string,
  change: Partial<Pick<Landing, "paw" | "onS" | "offS" | "xM" | "yM" | "xSeM">>,
): Pass[] {
  const found = findLanding(passes, id);
  if (!found) return [...passes];
  const next = { ...found.landing, ...change, source: "hand" as const, probability: 1 };
  if (next.offS - next.onS < shortestStanceS) {
    // The end that was not set gives way.
    if (change.onS !== undefined) next.offS = next.onS + shortestStanceS;
    else next.onS = Math.max(0, next.offS - shortestStanceS);
  }
  const landings = found.pass.landings.map((one) => (one.id === id ? next : one));
  return replacePass(passes, { ...found.pass, landings });
}

/** Takes a landing away; a pass marked by hand goes with its last one. */
export function removeLanding(passes: readonly Pass[], id: string): Pass[] {
  const found = findLanding(passes, id);
  if (!found) return [...passes];
  const landings = found.pass.landings.filter((one) => one.id !== id);
  if (landings.length === 0 && found.pass.id.startsWith("hand-")) {
    return passes.filter((pass) => pass.id !== found.pass.id);
  }
  return replacePass(passes, { ...found.pass, landings });
}

function replacePass(passes: readonly Pass[], changed: Pass): Pass[] {
  const described = describe(changed);
  return passes
    .map((pass) => (pass.id === changed.id ? described : pass))
    .sort((a, b) => a.startS - b.startS);
}

/** Puts what follows from the landings right. Speed and direction are the body's; by hand only landings tell them. */
function describe(pass: Pass): Pass {
  const landings = [...pass.landings].sort((a, b) => a.onS - b.onS);
  const ordered = {
    ...pass,
    landings,
    startS: Math.min(pass.startS, ...landings.map((one) => one.onS)),
    endS: Math.max(pass.endS, ...landings.map((one) => one.offS)),
    strideTimeS: strideTime(landings) ?? pass.strideTimeS,
  };
  if (!pass.id.startsWith("hand-") || landings.length === 0) return ordered;
  const own = {
    ...ordered,
    startS: Math.min(...landings.map((one) => one.onS)),
    endS: Math.max(...landings.map((one) => one.offS)),
  };
  if (landings.length < 2) return own;
  const slope = linearRegression(landings.map((one) => [(one.onS + one.offS) / 2, one.xM])).m;
  if (!Number.isFinite(slope)) return own;
  return { ...own, direction: slope < 0 ? -1 : 1, speedMps: Math.abs(slope) };
}

/** Median time from a touch-down to the same paw's next; null where no paw has two. */
function strideTime(landings: readonly Landing[]): number | null {
  const strides: number[] = [];
  for (const paw of ["LH", "RH", "LF", "RF"] satisfies Paw[]) {
    const own = landings.filter((one) => one.paw === paw);
    own.slice(1).forEach((one, k) => {
      strides.push(one.onS - (own[k]?.onS ?? one.onS));
    });
  }
  return strides.length > 0 ? median(strides) : null;
}
