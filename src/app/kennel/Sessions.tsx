import { useCallback, useState } from "react";
import { Link, useLocation } from "wouter";
import type { Keeper } from "../../store/types.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { startSession } from "./new-session.ts";
import type { ScreenParams } from "./routes.tsx";
import { SessionLine } from "./SessionLine.tsx";

/** All sessions, newest first; of one dog where the address names it. */
export default function Sessions({ dogId }: ScreenParams) {
  const read = useCallback(
    async (from: Keeper) => ({
      sessions: await from.sessions(dogId),
      dog: dogId ? await from.dog(dogId) : undefined,
      units: (await from.settings()).units,
    }),
    [dogId],
  );
  const kept = useKept(read);
  const [, go] = useLocation();
  const [problem, setProblem] = useState<string | null>(null);
  const dog = kept.state === "here" ? kept.value.dog : undefined;
  const start = async () => {
    try {
      go(`/sessions/${(await startSession(await keeper(), dog)).id}`);
    } catch (error) {
      setProblem(sentenceOf(error));
    }
  };
  return (
    <Screen
      title="Sessions"
      subtitle={dog?.name}
      back={dogId ? `/dogs/${dogId}` : "/"}
      actions={
        <>
          <Link href={dogId ? `/check/dog/${dogId}` : "/"} className="button button-go">
            <Icon name="film" /> Check a clip
          </Link>
          <button type="button" className="button" onClick={start}>
            <Icon name="plus" /> Without a clip
          </button>
        </>
      }
    >
      {kept.state === "failed" && <Note weight="stop">{kept.sentence}</Note>}
      {problem && <Note weight="stop">{problem}</Note>}
      {kept.state === "here" && kept.value.sessions.length === 0 && (
        <p className="soft">None yet. The first clip starts one.</p>
      )}
      {kept.state === "here" && kept.value.sessions.length > 0 && (
        <ul className="kennel-rows">
          {kept.value.sessions.map((session) => (
            <SessionLine key={session.id} session={session} units={kept.value.units} named={!dogId} />
          ))}
        </ul>
      )}
    </Screen>
  );
}
