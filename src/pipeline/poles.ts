import { type Anchored, anchorToPoles } from "../ground/anchor.ts";
import type { Box } from "../ground/flow.ts";
import { type Crossing, type PoleStory, tellKnocks } from "../ground/knocks.ts";
import { type LookOptions, lookAtPoles, type PoleLook } from "../ground/pole-looks.ts";
import { stretchesLost } from "../ground/registrar.ts";
import type { CameraReport, FrameRegistration, GreyPicture } from "../ground/types.ts";

/** Time between two looks at the poles, seconds. */
const EVERY_S = 0.1;
/** Pictures kept until the camera's way is known; when there are more, every second one is let go. */
const MOST_KEPT = 240;

/** Rounds of putting a drifted chain right; it has settled when so little is left, metres. */
const MOST_ROUNDS = 5;
const SETTLED_M = 0.01;

/** What the poles say once the whole clip has been seen. */
export interface PolesSeen {
  /** The camera's way, checked against the poles. */
  registrations: FrameRegistration[];
  report: CameraReport;
  /** Largest drift of the background that the poles put right, metres. */
  putRightM: number;
  story(passes: readonly Crossing[]): PoleStory;
}

/**
 * A chain that has drifted farther than the strips across the poles reach is put right from the marked frame outwards:
 * each round looks through what the one before has put right. Only the last one doubts.
 */
function anchoredFrom(
  chain: FrameRegistration[],
  lookThrough: (way: readonly FrameRegistration[]) => PoleLook[],
  { map }: LookOptions,
  referenceS: number,
): Anchored {
  let way = chain;
  let putRightM = 0;
  let findable = false;
  for (let round = 1; ; round++) {
    const anchored = anchorToPoles(way, lookThrough(way), map, referenceS, findable);
    findable = anchored.findable;
    putRightM += anchored.putRightM;
    if (anchored.putRightM < SETTLED_M || round === MOST_ROUNDS) return { ...anchored, putRightM };
    way = anchored.registrations.map((r, k) => ({ ...r, ok: chain[k]!.ok }));
  }
}

/**
 * Watches the poles through a clip. Where the camera stands they are looked at as the frames come; where it moves, a
 * bounded number of small pictures waits until it is known how each lies against the marked frame.
 */
export function watchPoles(options: LookOptions, referenceS: number) {
  const standing: PoleLook[] = [];
  let waiting: { grey: GreyPicture; timeS: number; avoid: readonly Box[] }[] = [];
  let everyS = EVERY_S;

  const keep = (grey: GreyPicture, timeS: number, avoid: readonly Box[]) => {
    const last = waiting.at(-1);
    if (last && timeS - last.timeS < everyS - 1e-6) return;
    waiting.push({ grey, timeS, avoid });
    if (waiting.length <= MOST_KEPT) return;
    waiting = waiting.filter((_, k) => k % 2 === 0);
    everyS *= 2;
  };

  return {
    /** @param avoid boxes of grey pixels with the dog in them. */
    add(grey: GreyPicture, timeS: number, avoid: readonly Box[]): void {
      const last = standing.at(-1);
      if (!last || timeS - last.timeS >= EVERY_S - 1e-6)
        standing.push(lookAtPoles(options, grey, timeS, undefined, avoid));
      keep(grey, timeS, avoid);
    },
    finish(registrations: FrameRegistration[], report: CameraReport): PolesSeen {
      const tell = (looks: PoleLook[]) => (passes: readonly Crossing[]) =>
        tellKnocks(looks, options.map, passes, referenceS);
      if (report.kind === "still") return { registrations, report, putRightM: 0, story: tell(standing) };
      const lookThrough = (way: readonly FrameRegistration[]) => {
        const at = new Map(way.map((r) => [r.timeS, r]));
        return waiting.flatMap(({ grey, timeS, avoid }) => {
          const registration = at.get(timeS);
          return registration?.ok
            ? [lookAtPoles(options, grey, timeS, registration.frameToReference, avoid)]
            : [];
        });
      };
      const anchored = anchoredFrom(registrations, lookThrough, options, referenceS);
      return {
        registrations: anchored.registrations,
        report: { ...report, lost: stretchesLost(anchored.registrations) },
        putRightM: anchored.putRightM,
        story: tell(lookThrough(anchored.registrations)),
      };
    },
  };
}
