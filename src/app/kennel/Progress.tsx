import { useCallback, useId, useMemo, useState } from "react";
import { Link } from "wouter";
import { drawProgressLine, type ProgressLineData } from "../../charts/progress-line.ts";
import { drawProgressPair } from "../../charts/progress-pair.ts";
import { drawProgressSpeed } from "../../charts/progress-speed.ts";
import type { PoleGait } from "../../spacing/types.ts";
import type { Dog, Keeper, Session, Units } from "../../store/types.ts";
import { useKept } from "../keeper.ts";
import { length } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { Choice } from "./Choice.tsx";
import { changeBetween } from "./change.ts";
import { Drawn } from "./Drawn.tsx";
import { NotHere } from "./NotHere.tsx";
import { naturalSteps } from "./own-step.ts";
import {
  type Followed,
  follow,
  followed,
  followPlain,
  type JudgedSession,
  knocksOf,
  type Measured,
  measured,
  naturalMeasured,
  speedBehindStep,
  speedSteps,
} from "./progress.ts";
import type { ScreenParams } from "./routes.tsx";
import { dayName } from "./words.ts";

/** One dog over the weeks. */
export default function Progress({ dogId = "" }: ScreenParams) {
  const read = useCallback(
    async (from: Keeper) => {
      const [dog, sessions, settings] = await Promise.all([
        from.dog(dogId),
        from.sessions(dogId),
        from.settings(),
      ]);
      const { units } = settings;
      return { dog, sessions, natural: await naturalSteps(from, dogId, units), units };
    },
    [dogId],
  );
  const kept = useKept(read);
  if (kept.state === "reading") return <Waiting title="Progress" />;
  if (kept.state === "failed") return <NotHere title="Progress" back="/dogs" sentence={kept.sentence} />;
  const { dog, sessions, natural, units } = kept.value;
  if (!dog) return <NotHere title="No such dog here" back="/dogs" />;
  return <Shown dog={dog} all={sessions} allNatural={natural} units={units} />;
}

type Natural = Awaited<ReturnType<typeof naturalSteps>>;

interface ShownProps {
  dog: Dog;
  all: Session[];
  allNatural: Natural;
  units: Units;
}

function Shown({ dog, all, allNatural, units }: ShownProps) {
  const natural = (gait: PoleGait) => allNatural.filter(({ session }) => session.gait === gait);
  const gaits = (["walk", "trot"] as const).filter(
    (gait) => followed(all, gait).length + natural(gait).length > 0,
  );
  const [chosen, setChosen] = useState<PoleGait | null>(null);
  const gait = chosen ?? gaits.find((one) => one === dog.gait) ?? gaits[0] ?? dog.gait;
  const sessions = useMemo(() => followed(all, gait), [all, gait]);
  const [first] = sessions;
  const last = sessions.at(-1);
  const underSpeed = first && last && first !== last ? speedBehindStep(first, last) : null;
  return (
    <Screen title="Progress" subtitle={dog.name} back={`/dogs/${dog.id}`}>
      {gaits.length > 1 && (
        <Choice<PoleGait>
          label="Gait"
          value={gait}
          options={[
            { value: "walk", name: "Walk" },
            { value: "trot", name: "Trot" },
          ]}
          onChange={setChosen}
        />
      )}
      {sessions.length === 0 && natural(gait).length === 0 ? (
        <section className="sheet stack kennel-empty">
          <p>No session with a verdict yet. The first clip starts one.</p>
          <Link href={`/check/dog/${dog.id}`} className="button button-go">
            <Icon name="film" /> Check a clip
          </Link>
        </section>
      ) : (
        <>
          <p className="small soft">
            Every mark is a session with its 95 % interval. Inside the grey band about the first one, a
            difference can be chance. Days differ from one another besides: look for what holds over three
            sessions or more.
          </p>
          {underSpeed && <Note weight="warn">{underSpeed}</Note>}
          <div className="kennel-charts">
            {measured(units).map((what) => (
              <Line key={what.id} sessions={sessions} what={what} units={units} />
            ))}
            <NaturalLine natural={natural(gait)} units={units} />
            <Plain
              name="Scatter of the landings"
              unit="% of the gap"
              note="Spread of the landings in their gaps once creep is taken out. It has no interval of its own: read it over several sessions."
              points={followPlain(sessions, (s) =>
                s.judgement.scatter === null ? null : s.judgement.scatter * 100,
              )}
              digits={1}
              units={units}
            />
            <Plain
              name="Knocks"
              unit="a session"
              note="As counted by eye, or as seen on film where nobody counted."
              points={followPlain(sessions, knocksOf)}
              digits={0}
              units={units}
            />
            <StepAgainstSpeed sessions={sessions} units={units} />
            {sessions.length > 1 && <Pair sessions={sessions} units={units} />}
          </div>
          <OwnStep />
        </>
      )}
    </Screen>
  );
}

function Line({ sessions, what, units }: { sessions: JudgedSession[]; what: Measured; units: Units }) {
  const line = useMemo(() => follow(sessions, what), [sessions, what]);
  if (!line) return null;
  const under =
    what.id === "step"
      ? {
          name: "Spacing of the poles",
          points: sessions.flatMap((session) => {
            const gaps = session.layout?.gapsM;
            if (!gaps) return [];
            return [
              { at: session.date, value: (gaps.reduce((a, b) => a + b, 0) / gaps.length) * what.scale },
            ];
          }),
        }
      : undefined;
  return (
    <section className="sheet stack-tight" aria-label={what.name}>
      <h2>
        {what.name} <span className="soft small">{what.unit}</span>
      </h2>
      <LineDrawing
        data={{
          name: `${what.name}, ${what.unit}`,
          points: line.points,
          digits: what.digits,
          noise: line.noise,
          under,
        }}
        units={units}
      />
      {under && (
        <p className="small soft">
          Orange bars: the spacing of the poles, on average where the row was uneven.
        </p>
      )}
      <p className="small">{line.sentence}</p>
    </section>
  );
}

function NaturalLine({ natural, units }: { natural: Natural; units: Units }) {
  const what = naturalMeasured(units);
  const line = follow(natural, what);
  if (!line) return null;
  const { points, noise } = line;
  return (
    <section className="sheet stack-tight" aria-label={what.name}>
      <h2>
        {what.name} <span className="soft small">{units}</span>
      </h2>
      <LineDrawing
        data={{ name: `${what.name}, ${units}`, points, digits: what.digits, noise }}
        units={units}
      />
      <p className="small">{line.sentence}</p>
    </section>
  );
}

function LineDrawing({ data, units }: { data: ProgressLineData; units: Units }) {
  const id = useId();
  const draw = useCallback(
    (width: number) => drawProgressLine(data, { width, units, id }),
    [data, units, id],
  );
  return <Drawn draw={draw} />;
}

interface PlainProps {
  name: string;
  unit: string;
  note: string;
  points: Followed["points"];
  digits: number;
  units: Units;
}

function Plain({ name, unit, note, points, digits, units }: PlainProps) {
  if (points.length === 0) return null;
  return (
    <section className="sheet stack-tight" aria-label={name}>
      <h2>
        {name} <span className="soft small">{unit}</span>
      </h2>
      <LineDrawing data={{ name: `${name}, ${unit}`, points, digits, noise: null }} units={units} />
      <p className="small soft">{note}</p>
    </section>
  );
}

function StepAgainstSpeed({ sessions, units }: { sessions: JudgedSession[]; units: Units }) {
  const id = useId();
  const passes = useMemo(() => speedSteps(sessions), [sessions]);
  const draw = useCallback(
    (width: number) => drawProgressSpeed(passes, { width, units, id }),
    [passes, units, id],
  );
  if (passes.length < 2) return null;
  return (
    <section className="sheet stack-tight" aria-label="Step against speed">
      <h2>Step against speed</h2>
      <Drawn draw={draw} />
      <p className="small soft">
        Any dog steps longer when it goes faster. Compare marks that lie above one another: passes of equal
        speed.
      </p>
    </section>
  );
}

function Pair({ sessions, units }: { sessions: JudgedSession[]; units: Units }) {
  const id = useId();
  const [earlierId, setEarlierId] = useState(sessions[0]?.id);
  const [laterId, setLaterId] = useState(sessions.at(-1)?.id);
  const earlier = sessions.find((one) => one.id === earlierId) ?? sessions[0];
  const later = sessions.find((one) => one.id === laterId) ?? sessions.at(-1);
  const draw = useCallback(
    (width: number) =>
      earlier && later ? drawProgressPair(pairOf(earlier), pairOf(later), { width, units, id }) : "<svg/>",
    [earlier, later, units, id],
  );
  if (!earlier || !later) return null;
  const choose = (label: string, value: string, onChange: (id: string) => void) => (
    <label className="field">
      {label}
      <select value={value} onChange={(event) => onChange(event.target.value)}>
        {sessions.map((session) => (
          <option key={session.id} value={session.id}>
            {dayName(session.date)}
          </option>
        ))}
      </select>
    </label>
  );
  return (
    <section className="sheet stack" aria-label="Two sessions over one another">
      <h2>Two sessions over one another</h2>
      <div className="kennel-pair">
        {choose("One", earlier.id, setEarlierId)}
        {choose("The other", later.id, setLaterId)}
      </div>
      <Drawn draw={draw} />
      <p className="small">{pairSentence(earlier, later, units)}</p>
    </section>
  );
}

function pairOf(session: JudgedSession) {
  return {
    name: dayName(session.date),
    gapsM: session.layout?.gapsM ?? [],
    passes: session.judgement.passes,
  };
}

function pairSentence(one: JudgedSession, other: JudgedSession, units: Units): string {
  if (one.id === other.id) return "Choose two different sessions.";
  const a = one.judgement.stepM;
  const b = other.judgement.stepM;
  if (!a || !b) return "One of the two has too few landings for a step.";
  const change = changeBetween(a, b);
  const by = length(Math.abs(change.difference), units, 1);
  return change.real
    ? `The step was ${by} ${change.difference > 0 ? "longer" : "shorter"} on ${dayName(other.date)}, more than the ${length(change.smallest, units, 1)} that can be chance.`
    : `The steps differ by ${by}; up to ${length(change.smallest, units, 1)} can be chance.`;
}

function OwnStep() {
  return (
    <details className="fold">
      <summary>Is it the dog's own step?</summary>
      <div className="stack-tight">
        <p>
          Poles pull a dog's step towards their spacing, so steady landings alone can hide a stretch. Film two
          metres or more before the first pole: the steps on the way in are compared with those over the
          poles.
        </p>
        <p>
          To measure the dog's natural step with no poles at all, lay two marks across bare ground some metres
          apart and film the dog passing them at the same gait and speed. Mark both ends of each on the Poles
          screen, with the distance between them, and say on the session's screen that it was bare ground.
        </p>
      </div>
    </details>
  );
}
