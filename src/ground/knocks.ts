import { median } from "./patches.ts";
import {
  ALIKE,
  bestShift,
  correlation,
  type PoleLook,
  type Profile,
  restingProfiles,
  stripReach,
} from "./pole-looks.ts";
import type { GroundMap } from "./types.ts";

/** A pole that lay elsewhere after a pass than before it. */
export interface Knock {
  passId: string;
  pole: number;
  /** First time at which the pole was seen in its new place, seconds; it was touched shortly before. */
  timeS: number;
  /** How far its middle moved along the row, metres; null where it left the strip that is watched. */
  shiftM: number | null;
}

/** A crossing of the row, as far as poles are concerned. */
export interface Crossing {
  id: string;
  startS: number;
  endS: number;
}

/** What the poles did during the passes of a clip. */
export interface PoleStory {
  knocks: Knock[];
  /**
   * By pass: how far each pole lay from its marked place when the dog came to it, metres along the row. Only passes
   * that faced a row other than the marked one are listed.
   */
  movedM: Record<string, number[]>;
}

/** The poles knocked in each pass. */
export function polesByPass(knocks: readonly Knock[]): Record<string, number[]> {
  const poles: Record<string, number[]> = {};
  for (const { passId, pole } of knocks) poles[passId] = [...(poles[passId] ?? []), pole];
  return poles;
}

/** How long before a pole is hidden by the dog, and after, it is looked at; and at most so many looks. */
const REST_S = 3;
const MOST_LOOKS = 15;
/** A smaller shift than this is no knock, metres. */
const SMALLEST_SHIFT_M = 0.01;

/**
 * The poles that moved, pass by pass. A pole is knocked when its profiles after the dog has passed over it fit those
 * before only when shifted, at most of the points along it that can be seen both times.
 * @param referenceS when the poles were marked: what lay elsewhere then than at a pass was knocked or laid anew
 *   meanwhile.
 */
export function tellKnocks(
  looks: readonly PoleLook[],
  map: GroundMap,
  passes: readonly Crossing[],
  referenceS: number,
): PoleStory {
  const reach = stripReach(map);
  const story: PoleStory = { knocks: [], movedM: {} };
  const marked = reach.map((_, pole) => restingProfiles(nearestSeen(looks, pole, referenceS), pole));
  passes.forEach((pass, index) => {
    const from = Math.max(pass.startS - REST_S, passes[index - 1]?.endS ?? Number.NEGATIVE_INFINITY);
    const to = Math.min(pass.endS + REST_S, passes[index + 1]?.startS ?? Number.POSITIVE_INFINITY);
    const moved = reach.map((reachM, pole) => {
      const { before, after, hiddenS } = aroundTheDog(looks, pole, pass, from, to);
      const [earlier, later] = [restingProfiles(before, pole), restingProfiles(after, pole)];
      const knock = movement(earlier, later, reachM);
      if (knock) {
        const during = looks.filter((l) => l.timeS >= hiddenS - 0.3 && l.timeS <= to);
        story.knocks.push({
          passId: pass.id,
          pole,
          timeS: firstInNewPlace(during, pole, earlier, later) ?? pass.endS,
          shiftM: knock.shiftM,
        });
      }
      return movement(marked[pole]!, earlier, reachM)?.shiftM ?? 0;
    });
    if (moved.some((m) => m !== 0)) story.movedM[pass.id] = moved;
  });
  return story;
}

/** The looks nearest to a time in which most of the pole could be seen. */
function nearestSeen(looks: readonly PoleLook[], pole: number, timeS: number): PoleLook[] {
  return looks
    .filter((l) => seen(l, pole) >= 5 && Math.abs(l.timeS - timeS) < REST_S)
    .sort((a, b) => Math.abs(a.timeS - timeS) - Math.abs(b.timeS - timeS))
    .slice(0, 5);
}

const seen = (look: PoleLook, pole: number) => look.profiles[pole]!.filter((p) => p !== null).length;

/** The looks just before and just after the dog was in front of a pole. */
function aroundTheDog(looks: readonly PoleLook[], pole: number, pass: Crossing, from: number, to: number) {
  const within = looks.filter((l) => l.timeS >= from && l.timeS <= to);
  const most = Math.max(0, ...within.map((l) => seen(l, pole)));
  const hidden = within.filter(
    (l) => l.timeS >= pass.startS && l.timeS <= pass.endS && seen(l, pole) < most / 2,
  );
  // Never hidden at all: the dog's box missed it, and the pass's middle parts before from after.
  const middleS = (pass.startS + pass.endS) / 2;
  const firstS = hidden[0]?.timeS ?? middleS;
  const lastS = hidden.at(-1)?.timeS ?? middleS;
  return {
    before: within.filter((l) => l.timeS < firstS).slice(-MOST_LOOKS),
    after: within.filter((l) => l.timeS > lastS).slice(0, MOST_LOOKS),
    hiddenS: firstS,
  };
}

function movement(
  before: readonly (Profile | null)[],
  after: readonly (Profile | null)[],
  reachM: number,
): { shiftM: number | null } | null {
  const pairs = before.flatMap((b, k) => (b && after[k] ? [bestShift(b, after[k], reachM)] : []));
  if (pairs.length < 3) return null;
  const found = pairs.filter((p) => p.correlation > ALIKE);
  const unmoved = pairs.filter((p) => p.atRest > ALIKE && Math.abs(p.shiftM) < SMALLEST_SHIFT_M);
  if (unmoved.length >= pairs.length / 2) return null;
  if (found.length >= pairs.length / 2) {
    const shiftM = median(found.map((p) => p.shiftM));
    const largest = Math.max(...found.map((p) => Math.abs(p.shiftM)));
    // A pole turned about its middle moves at both ends only.
    if (Math.abs(shiftM) < SMALLEST_SHIFT_M && largest < 2 * SMALLEST_SHIFT_M) return null;
    return { shiftM };
  }
  // The pole is gone from the strip: what was there before is nowhere in it now.
  const gone = pairs.filter((p) => p.atRest < 0.4 && p.correlation < ALIKE);
  return gone.length > pairs.length / 2 ? { shiftM: null } : null;
}

/** The first look from which on the pole is more like its later self than its earlier one, hidden looks passed over. */
function firstInNewPlace(
  during: readonly PoleLook[],
  pole: number,
  before: readonly (Profile | null)[],
  after: readonly (Profile | null)[],
): number | null {
  let since: number | null = null;
  for (const look of during) {
    const votes = look.profiles[pole]!.flatMap((profile, k) => {
      const [b, a] = [before[k], after[k]];
      if (!profile || !b || !a) return [];
      const [toBefore, toAfter] = [correlation(profile, b), correlation(profile, a)];
      return Math.max(toBefore, toAfter) > ALIKE ? [toAfter - toBefore] : [];
    });
    if (votes.length < 2) continue;
    if (median(votes) > 0) since ??= look.timeS;
    else since = null;
  }
  return since;
}
