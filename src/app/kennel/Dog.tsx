import { useCallback, useState } from "react";
import { Link, useLocation } from "wouter";
import { gatesOf } from "../../spacing/cautions.ts";
import type { Dog, Keeper, Session, Units } from "../../store/types.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { length } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { aimName } from "../verdict/names.ts";
import { isCleared } from "./Clearance.tsx";
import { Face } from "./Face.tsx";
import { MEASURES } from "./measures.ts";
import { NotHere } from "./NotHere.tsx";
import { PlanDrawing } from "./PlanDrawing.tsx";
import type { ScreenParams } from "./routes.tsx";
import { SessionLine } from "./SessionLine.tsx";
import { cautionWords, dayName } from "./words.ts";

const newest = 4;

/** One dog: the row it is to meet next, its last sessions, its measures. */
export default function DogScreen({ dogId = "" }: ScreenParams) {
  const read = useCallback(
    async (from: Keeper) => {
      const [dog, sessions, settings] = await Promise.all([
        from.dog(dogId),
        from.sessions(dogId),
        from.settings(),
      ]);
      return { dog, sessions, units: settings.units };
    },
    [dogId],
  );
  const kept = useKept(read);
  if (kept.state === "reading") return <Waiting title="Dog" />;
  if (kept.state === "failed") return <NotHere title="Dog" back="/dogs" sentence={kept.sentence} />;
  const { dog, sessions, units } = kept.value;
  if (!dog) return <NotHere title="No such dog here" back="/dogs" />;
  return <Shown dog={dog} sessions={sessions} units={units} />;
}

function Shown({ dog, sessions, units }: { dog: Dog; sessions: Session[]; units: Units }) {
  return (
    <Screen
      title={dog.name}
      subtitle={`${aimName[dog.aim]} · ${dog.gait}${dog.example ? " · an invented example" : ""}`}
      back="/dogs"
      tools={
        <Link
          href={`/dogs/${dog.id}/edit`}
          className="button button-quiet button-icon"
          aria-label={`About ${dog.name}`}
        >
          <Icon name="edit" />
        </Link>
      }
      actions={
        <>
          <Link href={`/check/dog/${dog.id}`} className="button button-go">
            <Icon name="film" /> Check a clip
          </Link>
          <Link href={`/dogs/${dog.id}/layout`} className="button">
            <Icon name="poles" /> Layout
          </Link>
        </>
      }
    >
      {!isCleared(dog) && (
        <Note weight="warn">
          Noted:{" "}
          {gatesOf(dog.cautions)
            .map(({ id }) => cautionWords[id].name.toLowerCase())
            .join(", ")}
          . No row is planned until a veterinarian has cleared {dog.name}.
        </Note>
      )}
      <section className="sheet stack" aria-labelledby="next-row">
        <div className="line-apart">
          <h2 id="next-row">Next row</h2>
          <Link href={`/dogs/${dog.id}/layout`}>{dog.plan && isCleared(dog) ? "Change" : "Plan it"}</Link>
        </div>
        {dog.plan && isCleared(dog) ? (
          <>
            <PlanDrawing layout={dog.plan.layout} units={units} />
            {dog.plan.reasons[0] && <p className="soft small">{dog.plan.reasons[0]}</p>}
          </>
        ) : (
          <p className="soft">
            {dog.plan ? "It waits until a veterinarian has cleared the dog." : "No row yet."}
          </p>
        )}
      </section>

      <section className="stack-tight" aria-labelledby="sessions">
        <div className="line-apart">
          <h2 id="sessions">Sessions</h2>
          {sessions.length > 0 && (
            <span className="line">
              <Link href={`/dogs/${dog.id}/progress`}>Progress</Link>
              <Link href={`/dogs/${dog.id}/sessions`}>All {sessions.length}</Link>
            </span>
          )}
        </div>
        {sessions.length === 0 ? (
          <p className="soft">None yet. The first clip starts one.</p>
        ) : (
          <ul className="kennel-rows">
            {sessions.slice(0, newest).map((session) => (
              <SessionLine key={session.id} session={session} units={units} />
            ))}
          </ul>
        )}
      </section>

      <section className="sheet stack" aria-labelledby="body">
        <div className="line-apart">
          <div className="line">
            <Face dog={dog} />
            <h2 id="body">Body</h2>
          </div>
          <Link href={`/dogs/${dog.id}/edit`}>Change</Link>
        </div>
        <dl className="facts">
          {MEASURES.map(({ id, name }) => {
            const metres = dog.measures[id];
            return (
              <div key={id}>
                <dt>{name}</dt>
                <dd>{metres === null ? "–" : length(metres, units)}</dd>
              </div>
            );
          })}
          {dog.clearance && (
            <div>
              <dt>Cleared by</dt>
              <dd>
                {dog.clearance.who}, {dayName(Date.parse(dog.clearance.day))}
              </dd>
            </div>
          )}
        </dl>
        {dog.notes && <p className="kennel-notes">{dog.notes}</p>}
      </section>
      <Remove dog={dog} sessionCount={sessions.length} />
    </Screen>
  );
}

function Remove({ dog, sessionCount }: { dog: Dog; sessionCount: number }) {
  const [, go] = useLocation();
  const [asking, setAsking] = useState(false);
  const [problem, setProblem] = useState<string | null>(null);
  const remove = async (withSessions: boolean) => {
    try {
      await (await keeper()).deleteDog(dog.id, withSessions);
      go("/dogs", { replace: true });
    } catch (error) {
      setProblem(sentenceOf(error));
    }
  };
  if (!asking) {
    return (
      <button type="button" className="button button-quiet button-stop" onClick={() => setAsking(true)}>
        <Icon name="bin" /> Remove {dog.name}
      </button>
    );
  }
  return (
    <section className="sheet stack" aria-label={`Remove ${dog.name}`}>
      <p>
        {sessionCount === 0
          ? `${dog.name} has no sessions. Remove it?`
          : `${dog.name} has ${sessionCount === 1 ? "one session" : `${sessionCount} sessions`}. They can stay, under its name, or go too, with their clips.`}
      </p>
      {problem && <Note weight="stop">{problem}</Note>}
      <div className="kennel-answers">
        <button type="button" className="button button-stop" onClick={() => remove(false)}>
          Remove the dog{sessionCount > 0 ? ", keep its sessions" : ""}
        </button>
        {sessionCount > 0 && (
          <button type="button" className="button button-stop" onClick={() => remove(true)}>
            Remove the dog and its sessions
          </button>
        )}
        <button type="button" className="button" onClick={() => setAsking(false)}>
          Keep everything
        </button>
      </div>
    </section>
  );
}
