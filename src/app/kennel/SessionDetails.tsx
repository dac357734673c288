import { useCallback, useMemo, useState } from "react";
import { Link, useLocation } from "wouter";
import type { Change, ClipRecord, Dog, Keeper, Session, Units } from "../../store/types.ts";
import { judgeSession, naturalStepOf } from "../judging.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { verdictName } from "../verdict/names.ts";
import { useAhead } from "./ahead.ts";
import { ClipPasses } from "./ClipPasses.tsx";
import { NaturalStepSheet } from "./NaturalStep.tsx";
import { NotHere } from "./NotHere.tsx";
import { newestOverPoles } from "./own-step.ts";
import type { ScreenParams } from "./routes.tsx";
import { Written } from "./SessionWritten.tsx";
import { dayAndTime } from "./words.ts";

/** One session: what was done, how it went, its clips with every pass, and the verdict over all of them. */
export default function SessionScreen({ sessionId = "" }: ScreenParams) {
  const read = useCallback(
    async (from: Keeper) => {
      const [session, clips, dogs, settings] = await Promise.all([
        from.session(sessionId),
        from.clips(sessionId),
        from.dogs(),
        from.settings(),
      ]);
      const others = session?.dogId ? await from.sessions(session.dogId) : [];
      const overPoles = session && newestOverPoles(others, session);
      return { session, clips, dogs, overPoles, units: settings.units };
    },
    [sessionId],
  );
  const kept = useKept(read);
  if (kept.state === "reading") return <Waiting title="Session" />;
  if (kept.state === "failed") return <NotHere title="Session" back="/sessions" sentence={kept.sentence} />;
  const { session, ...rest } = kept.value;
  if (!session) return <NotHere title="No such session here" back="/sessions" />;
  return <Shown session={session} {...rest} />;
}

/** What a session's judgement depends on besides its clips. */
const askedOfIt = ["bareGround", "layout", "gait", "aim", "dogId"] as const;

interface ShownProps {
  session: Session;
  clips: ClipRecord[];
  dogs: Dog[];
  /** The newest other session of this dog and gait over poles. */
  overPoles: Session | undefined;
  units: Units;
}

function Shown({ session: kept, clips, dogs, overPoles, units }: ShownProps) {
  const [problem, setProblem] = useState<string | null>(null);
  const attempt = async (work: (from: Keeper) => Promise<unknown>) => {
    try {
      await work(await keeper());
      setProblem(null);
      return true;
    } catch (error) {
      setProblem(sentenceOf(error));
      return false;
    }
  };
  const measured = clips.some((clip) => clip.analysis || clip.editedPasses);
  const dogOf = ({ dogId }: Session) => dogs.find((one) => one.id === dogId) ?? null;
  const [session, change] = useAhead(kept, (part: Change<Session>) => {
    const next = { ...kept, ...part };
    const asked = askedOfIt.some((field) => field in part) && (measured || next.bareGround);
    const judgement = asked ? (judgeSession(next, clips, dogOf(next), units)?.judgement ?? null) : undefined;
    return attempt((from) => from.changeSession(kept.id, asked ? { ...part, judgement } : part));
  });
  const dog = dogOf(session);
  const judged = useMemo(() => judgeSession(session, clips, dog, units), [session, clips, dog, units]);
  const natural = useMemo(
    () => (session.bareGround ? naturalStepOf(session, clips, units) : null),
    [session, clips, units],
  );
  const judgement = measured || session.bareGround ? (judged?.judgement ?? null) : session.judgement;

  const setPass = (clip: ClipRecord, passId: string, choice: { use: boolean; reason: string } | null) =>
    attempt(async (from) => {
      const { [passId]: _, ...others } = clip.passChoices;
      const passChoices = choice ? { ...others, [passId]: choice } : others;
      const after = clips.map((one) => (one.id === clip.id ? { ...one, passChoices } : one));
      await from.changeClip(clip.id, { passChoices });
      await from.changeSession(session.id, {
        judgement: judgeSession(session, after, dog, units)?.judgement ?? null,
      });
    });

  return (
    <Screen
      title={session.dogName || "Session"}
      subtitle={`${dayAndTime(session.date)}${session.example ? " · an invented example" : ""}`}
      back={session.dogId ? `/dogs/${session.dogId}` : "/sessions"}
      actions={
        <>
          {(judged || natural) && measured && (
            <Link href={`/sessions/${session.id}/report`} className="button">
              <Icon name="report" /> Report
            </Link>
          )}
          <Link href={`/check/session/${session.id}`} className="button button-go">
            <Icon name="film" /> Add a clip
          </Link>
        </>
      }
    >
      {problem && <Note weight="stop">{problem}</Note>}
      <div className="kennel-two">
        <div className="stack">
          {natural && (
            <NaturalStepSheet natural={natural} gait={session.gait} overPoles={overPoles} units={units} />
          )}
          {judgement && (
            <section className="sheet stack-tight" aria-labelledby="verdict">
              <h2 id="verdict" className="kennel-verdict">
                {verdictName[judgement.verdict.kind]}
              </h2>
              <p>{judgement.verdict.sentence}</p>
              <p className="soft small">{judgement.verdict.evidence}</p>
              <p className="small">
                <strong>Next time:</strong> {judgement.verdict.nextTime}
              </p>
              {judgement.ownStep && <p className="small">{judgement.ownStep.sentence}</p>}
              {judgement.notes.map((note) => (
                <Note key={note}>{note}</Note>
              ))}
              {session.dogId && (
                <Link href={`/dogs/${session.dogId}/layout?from=${session.id}`} className="button">
                  <Icon name="poles" /> Next row
                </Link>
              )}
            </section>
          )}
          <section className="stack-tight" aria-labelledby="clips">
            <h2 id="clips">Clips</h2>
            {clips.length === 0 && <p className="soft">None. What you write below is kept all the same.</p>}
            {judged?.otherRow.map((clip) => (
              <Note key={clip.id} weight="warn">
                {clip.fileName} was filmed over another row than this session's; its passes are left out. Set
                the gaps right on its Poles screen, or put it into a session of its own.
              </Note>
            ))}
            {clips.map((clip) => (
              <ClipPasses
                key={clip.id}
                clip={clip}
                judged={natural?.passes ?? judgement?.passes ?? []}
                bareGround={session.bareGround === true}
                units={units}
                onChoice={(passId, choice) => setPass(clip, passId, choice)}
                onDelete={() => attempt((from) => from.deleteClip(clip.id))}
              />
            ))}
          </section>
        </div>
        <div className="stack">
          <Written session={session} dogs={dogs} units={units} change={change} />
          <Remove session={session} />
        </div>
      </div>
    </Screen>
  );
}

function Remove({ session }: { session: Session }) {
  const [, go] = useLocation();
  const [asking, setAsking] = useState(false);
  const [problem, setProblem] = useState<string | null>(null);
  const remove = async () => {
    try {
      await (await keeper()).deleteSession(session.id);
      go(session.dogId ? `/dogs/${session.dogId}` : "/sessions", { replace: true });
    } catch (error) {
      setProblem(sentenceOf(error));
    }
  };
  if (!asking) {
    return (
      <button type="button" className="button button-quiet button-stop" onClick={() => setAsking(true)}>
        <Icon name="bin" /> Delete this session
      </button>
    );
  }
  return (
    <section className="sheet stack" aria-label="Delete this session">
      <p>Its clips, films and landings go with it, and can't be had back.</p>
      {problem && <Note weight="stop">{problem}</Note>}
      <div className="kennel-answers">
        <button type="button" className="button button-stop" onClick={remove}>
          Delete the session
        </button>
        <button type="button" className="button" onClick={() => setAsking(false)}>
          Keep it
        </button>
      </div>
    </section>
  );
}
