import { useCallback, useEffect, useMemo } from "react";
import type { Judgement } from "../../spacing/types.ts";
import type { ClipRecord, Keeper } from "../../store/types.ts";
import { useBench } from "../bench.ts";
import { judgeSession, type SessionPasses } from "../judging.ts";
import { sentenceOf, useKept } from "../keeper.ts";

export type Judged =
  | { state: "reading" }
  | { state: "judged"; result: SessionPasses & { judgement: Judgement }; clips: ClipRecord[] }
  | { state: "none"; sentence: string };

/** The judgement over all clips of the session on the bench, kept with the session. */
export function useJudgement(): Judged {
  const [state, bench] = useBench();
  const { clip, session, dog, settings } = state;
  // Taken one by one: the session also holds the judgement, which must not ask for another one.
  const { id, layout, aim, gait } = session;
  const kept = useKept(useCallback((keeper: Keeper) => keeper.clips(id), [id]));
  const { units } = settings;
  const judged = useMemo<Judged>(() => {
    if (kept.state === "reading") return { state: "reading" };
    if (kept.state === "failed") return { state: "none", sentence: kept.sentence };
    // What is on the bench is newer than what is kept.
    const clips = kept.value.map((one) => (one.id === clip.id ? clip : one));
    try {
      const result = judgeSession({ layout, aim, gait }, clips, dog, units);
      return result
        ? { state: "judged", result, clips }
        : {
            state: "none",
            sentence: "There is no verdict without poles: mark them, and the landings, first.",
          };
    } catch (error) {
      return { state: "none", sentence: sentenceOf(error) };
    }
  }, [kept, clip, layout, aim, gait, dog, units]);

  const judgement = judged.state === "judged" ? judged.result.judgement : null;
  useEffect(() => {
    if (judgement) bench.changeSession({ judgement });
  }, [judgement, bench]);
  return judged;
}
