import { useCallback, useEffect, useMemo } from "react";
import type { NaturalStep } from "../../spacing/natural-step.ts";
import type { Judgement } from "../../spacing/types.ts";
import type { Keeper, Session } from "../../store/types.ts";
import { useBench } from "../bench.ts";
import { judgeSession, naturalStepOf, type SessionPasses } from "../judging.ts";
import { sentenceOf, useKept } from "../keeper.ts";
import { type KnownStep, newestNaturalStep, newestOverPoles } from "../kennel/own-step.ts";

export type Judged =
  | { state: "reading" }
  | {
      state: "judged";
      result: SessionPasses & { judgement: Judgement };
      /** Its step over bare ground at this gait, where it was measured. */
      known: KnownStep | null;
    }
  | { state: "natural"; natural: NaturalStep; overPoles: Session | undefined }
  | { state: "none"; sentence: string };

/**
 * The judgement over all clips of the session on the bench, kept with the session; over bare ground the dog's own step.
 */
export function useJudgement(): Judged {
  const [state, bench] = useBench();
  const { clip, session, dog, settings } = state;
  // Taken one by one: the session also holds the judgement, which must not ask for another one.
  const { units } = settings;
  const { id, dogId, layout, aim, gait, bareGround } = session;
  const kept = useKept(
    useCallback(
      async (keeper: Keeper) => ({
        clips: await keeper.clips(id),
        others: dogId ? await keeper.sessions(dogId) : [],
        known: dogId ? await newestNaturalStep(keeper, dogId, gait, units) : null,
      }),
      [id, dogId, gait, units],
    ),
  );
  const judged = useMemo<Judged>(() => {
    if (kept.state === "reading") return { state: "reading" };
    if (kept.state === "failed") return { state: "none", sentence: kept.sentence };
    // What is on the bench is newer than what is kept.
    const clips = kept.value.clips.map((one) => (one.id === clip.id ? clip : one));
    try {
      if (bareGround) {
        const natural = naturalStepOf({ gait }, clips, units);
        return { state: "natural", natural, overPoles: newestOverPoles(kept.value.others, { id, gait }) };
      }
      const result = judgeSession({ layout, aim, gait }, clips, dog, units);
      return result
        ? { state: "judged", result, known: kept.value.known }
        : {
            state: "none",
            sentence: "There is no verdict without poles: mark them, and the landings, first.",
          };
    } catch (error) {
      return { state: "none", sentence: sentenceOf(error) };
    }
  }, [kept, clip, id, layout, aim, gait, bareGround, dog, units]);

  const judgement = judged.state === "judged" ? judged.result.judgement : null;
  const misleads = judged.state === "natural" && session.judgement !== null;
  useEffect(() => {
    // A verdict on marks for poles must not stay with the session.
    if (misleads) bench.changeSession({ judgement: null });
  }, [misleads, bench]);
  useEffect(() => {
    if (judgement) bench.changeSession({ judgement });
  }, [judgement, bench]);
  return judged;
}
