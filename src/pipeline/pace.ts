import type { Box } from "../paws/types.ts";
import type { FrameLook } from "./evidence.ts";

/** How often frames are used, a second. */
export interface Pace {
  /** Looks of the network. */
  looks: number;
  /** Pictures of the ground for the second witness. */
  strips: number;
}

/** Nothing in a dog's stance needs more than this. */
const MOST_LOOKS = 30;
/** However slow the dog, and while there is none, for it has to be found. */
const FEWEST_LOOKS = 10;
/** While its speed is not known; and wherever the camera moves, which is followed from one look to the next. */
const LOOKS_AT_UNKNOWN_SPEED = 20;
/** Frames a second of a phone's film. */
const USUAL_FPS = 60;
/** Pictures of the ground for each look: they hold its paws up to the next one. */
const STRIPS_A_LOOK = 2;
/**
 * While a hind foot stands, the body goes on by about this share of its length, at a walk and at a trot alike:
 * 0.42 m in Labradors that walk (Light et al. Am J Vet Res 2010;71(9):997: 0.75 m/s for 0.56 s), 0.4 to 0.5 m in
 * trotting dogs of 30 kg (general literature), all of them about a metre long (from memory).
 */
const STANCE_LENGTHS = 0.4;
/** Looks at one stance. Of 369 landings with known truth four find 7 to 10 fewer than six and invent two fewer; three find 12 fewer. */
const LOOKS_A_STANCE = 4;
/** From near the ground a foot hides the one behind it for most of its stance: so many times as many looks. */
const MORE_FROM_LOW = 2;
/** A metre across the row that looks shorter than this share of one along it is seen from low: 0.4 m up in 4 m. */
const LOW = 0.11;
/** The dog's speed is taken over this long: half a step of its swaying box says nothing. */
const OVER_S = 0.4;

/** How the camera sees the ground. */
export interface View {
  /** Whether the picture stands on the reference frame. */
  still: boolean;
  /** See `foreshortening`. */
  foreshortening: number;
}

/**
 * How often to look, from what is known of the dog: a slow one's feet stand longer. The faster it goes for its length,
 * the more looks.
 *
 * @param looks Those whose answers are in, in order of time.
 */
export function paceFor(looks: readonly FrameLook[], view: View): Pace {
  const lengths = lengthsPerSecond(looks);
  const bySpeed =
    lengths === "unknown" ? LOOKS_AT_UNKNOWN_SPEED : (LOOKS_A_STANCE * lengths) / STANCE_LENGTHS;
  const wanted = view.foreshortening < LOW ? MORE_FROM_LOW * bySpeed : bySpeed;
  const least = view.still ? FEWEST_LOOKS : LOOKS_AT_UNKNOWN_SPEED;
  const perSecond = Math.min(MOST_LOOKS, Math.max(least, wanted));
  // Every second, third … frame of a film of sixty a second.
  const looksASecond = USUAL_FPS / Math.round(USUAL_FPS / perSecond);
  return { looks: looksASecond, strips: STRIPS_A_LOOK * looksASecond };
}

/** Lengths of its own that the dog goes in a second; none where there is no dog. */
function lengthsPerSecond(looks: readonly FrameLook[]): number | "unknown" {
  const last = looks.at(-1);
  if (!last?.sighting) return 0;
  let first = last;
  for (let i = looks.length - 2; i >= 0 && looks[i]!.sighting; i--) {
    first = looks[i]!;
    if (last.timeS - first.timeS >= OVER_S) break;
  }
  const overS = last.timeS - first.timeS;
  if (overS < OVER_S - 1e-6 || !first.sighting) return "unknown";
  const [a, b] = [first.sighting.box, last.sighting.box];
  return way(a, b) / overS / ((a.width + b.width) / 2);
}

/** The farther way of a box's two ends: one of them waits at the edge of a picture that the dog enters or leaves. */
function way(a: Box, b: Box): number {
  return Math.max(Math.abs(a.x - b.x), Math.abs(a.x + a.width - b.x - b.width));
}
