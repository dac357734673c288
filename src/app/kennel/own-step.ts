import type { NaturalStep } from "../../spacing/natural-step.ts";
import type { PoleGait } from "../../spacing/types.ts";
import type { Estimate } from "../../stats/types.ts";
import type { Keeper, Session, Units } from "../../store/types.ts";
import { naturalStepOf } from "../judging.ts";

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

/** The newest session of a dog at a gait over poles that has a step to compare with. */
export function newestOverPoles(
  sessions: readonly Session[],
  { id, gait }: Pick<Session, "id" | "gait">,
): Session | undefined {
  return sessions.find(
    (one) => one.id !== id && one.gait === gait && !one.bareGround && one.judgement?.stepM,
  );
}
