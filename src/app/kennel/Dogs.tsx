import { useState } from "react";
import { Link } from "wouter";
import { spacingNumber } from "../../charts/layout-plan.ts";
import { sharedLetters } from "../../store/merge.ts";
import type { Dog, Keeper, Session, Units } from "../../store/types.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { aimName, verdictName } from "../verdict/names.ts";
import { isCleared } from "./Clearance.tsx";
import { ExampleButton } from "./ExampleButton.tsx";
import { Face } from "./Face.tsx";
import { dayName } from "./words.ts";

async function readDogs(from: Keeper) {
  const [dogs, sessions, settings] = await Promise.all([from.dogs(), from.sessions(), from.settings()]);
  // Sessions come newest first.
  const latest = new Map<string, Session>();
  for (const session of sessions) {
    if (session.dogId && !latest.has(session.dogId)) latest.set(session.dogId, session);
  }
  return { dogs, latest, units: settings.units };
}

export default function Dogs() {
  const kept = useKept(readDogs);
  const [problem, setProblem] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const removeExamples = async () => {
    setBusy(true);
    setProblem(null);
    try {
      await (await keeper()).removeExamples();
    } catch (error) {
      setProblem(sentenceOf(error));
    } finally {
      setBusy(false);
    }
  };
  const dogs = kept.state === "here" ? kept.value.dogs : [];
  const examples = dogs.filter((dog) => dog.example);

  return (
    <Screen
      title="Dogs"
      back="/"
      actions={
        <>
          <Link href="/dogs/new" className="button button-go">
            <Icon name="plus" /> Add a dog
          </Link>
          {dogs.length > 0 && (
            <Link href="/cord" className="button">
              <Icon name="cord" /> Cord
            </Link>
          )}
        </>
      }
    >
      {kept.state === "failed" && <Note weight="stop">{kept.sentence}</Note>}
      {problem && <Note weight="stop">{problem}</Note>}
      {examples.length > 0 && (
        <Note>
          <div className="stack-tight">
            <p>
              {examples.map((dog) => dog.name).join(", ")} are invented: the example dogs of the Millbrook Dog
              Gym. Their sessions were worked out from simulated passes.
            </p>
            <button type="button" className="button" disabled={busy} onClick={removeExamples}>
              <Icon name="bin" /> Remove the examples
            </button>
          </div>
        </Note>
      )}
      {sharedLetters(dogs).map((sentence) => (
        <Note key={sentence} weight="warn">
          {sentence}
        </Note>
      ))}
      {kept.state === "here" && dogs.length === 0 && (
        <section className="sheet stack kennel-empty">
          <h2>No dogs yet</h2>
          <p>
            With a dog's measures you get a first spacing and height for its poles, one cord with every dog's
            marks, and its progress over the weeks.
          </p>
          <ExampleButton />
        </section>
      )}
      {kept.state === "here" && dogs.length > 0 && (
        <ul className="kennel-rows">
          {dogs.map((dog) => (
            <DogLine key={dog.id} dog={dog} latest={kept.value.latest.get(dog.id)} units={kept.value.units} />
          ))}
        </ul>
      )}
    </Screen>
  );
}

function DogLine({ dog, latest, units }: { dog: Dog; latest: Session | undefined; units: Units }) {
  const gaps = dog.plan?.layout.gapsM;
  const first = gaps?.[0];
  const even = gaps?.every((gap) => Math.abs(gap - (first ?? 0)) < 0.001);
  return (
    <li>
      <Link href={`/dogs/${dog.id}`} className="kennel-row">
        <Face dog={dog} />
        <span className="kennel-row-main">
          <strong>{dog.name}</strong>
          <span className="soft small">
            {dog.example && "Example · "}
            {aimName[dog.aim]} · {dog.gait}
          </span>
          {latest && (
            <span className="soft small">
              {dayName(latest.date)}
              {latest.judgement ? `: ${verdictName[latest.judgement.verdict.kind]}` : ""}
            </span>
          )}
        </span>
        <span className="kennel-row-number">
          {!isCleared(dog) ? (
            <span className="soft small">not cleared yet</span>
          ) : first === undefined ? (
            <span className="soft small">no row yet</span>
          ) : even ? (
            `${spacingNumber(first, units)} ${units}`
          ) : (
            <span className="small">{gaps?.map((gap) => spacingNumber(gap, units)).join(" · ")}</span>
          )}
        </span>
        <Icon name="next" />
      </Link>
    </li>
  );
}
