import type { NaturalStep } from "../../spacing/natural-step.ts";
import type { Judgement, PoleGait } from "../../spacing/types.ts";
import type { Estimate } from "../../stats/types.ts";
import type { Keeper, Session, Units } from "../../store/types.ts";
import { naturalStepOf } from "../judging.ts";
import { length } from "../lengths.ts";
import { changeBetween } from "./change.ts";
import { dayName } from "./words.ts";

/** A dog's step over bare ground, and the session in which it was measured. */
export interface KnownStep {
  session: Session;
  natural: NaturalStep & { stepM: Estimate };
}

/** The newest step that a dog showed at a gait over bare ground; null where none was measured. */
export async function newestNaturalStep(
  from: Keeper,
  dogId: string,
  gait: PoleGait,
  units: Units,
): Promise<KnownStep | null> {
  for (const session of await from.sessions(dogId)) {
    if (!session.bareGround || session.gait !== gait) continue;
    const natural = naturalStepOf(session, await from.clips(session.id), units);
    if (natural.stepM) return { session, natural: { ...natural, stepM: natural.stepM } };
  }
  return null;
}

/** Every session of a dog at a gait over bare ground that gave a step, oldest first. */
export async function naturalSteps(
  from: Keeper,
  dogId: string,
  units: Units,
): Promise<(KnownStep & { date: number })[]> {
  const bare = (await from.sessions(dogId)).filter((session) => session.bareGround);
  const read = await Promise.all(
    bare.map(async (session) => ({
      session,
      natural: naturalStepOf(session, await from.clips(session.id), units),
    })),
  );
  return read
    .flatMap(({ session, natural }) =>
      natural.stepM ? [{ session, date: session.date, natural: { ...natural, stepM: natural.stepM } }] : [],
    )
    .sort((a, b) => a.date - b.date);
}

/** What a step over poles is against the one over bare ground, with the speed where that differs too. */
export function againstNatural(
  { stepM, speedMps }: Pick<Judgement, "stepM" | "speedMps">,
  { session, natural }: KnownStep,
  units: Units,
): string | null {
  if (stepM === null) return null;
  const { difference, smallest, real } = changeBetween(natural.stepM, stepM);
  const own = `Over bare ground on ${dayName(session.date)} its own step was ${length(natural.stepM.value, units, 1)}`;
  const speed = natural.speedMps && speedMps ? changeBetween(natural.speedMps, speedMps) : null;
  const faster = speed?.real
    ? ` It went ${Math.abs(speed.difference).toFixed(2)} m/s ${speed.difference > 0 ? "faster" : "slower"} here, which changes a step by itself.`
    : "";
  if (!real) {
    return `${own}: over these poles it is the same, as far as the two can tell (up to ${length(smallest, units, 1)} can be chance).${faster}`;
  }
  const share = Math.abs((100 * difference) / natural.stepM.value).toFixed(0);
  return `${own}: over these poles it ${difference > 0 ? `reaches ${share} % further` : `steps ${share} % shorter`}.${faster}`;
}

/** The newest session of a dog at a gait over poles that has a step to compare with. */
export function newestOverPoles(
  sessions: readonly Session[],
  { id, gait }: Pick<Session, "id" | "gait">,
): Session | undefined {
  return sessions.find(
    (one) => one.id !== id && one.gait === gait && !one.bareGround && one.judgement?.stepM,
  );
}
