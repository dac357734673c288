import { useState } from "react";
import type { AimId, PoleGait } from "../../spacing/types.ts";
import type { Change, Dog, HandlerSide, HowDogFelt, Session, Surface, Units } from "../../store/types.ts";
import { Note } from "../shell/Note.tsx";
import { aimName } from "../verdict/names.ts";
import { Choice } from "./Choice.tsx";
import { NO_MEASURES } from "./measures.ts";
import { PlanDrawing } from "./PlanDrawing.tsx";
import { RowEditor } from "./RowEditor.tsx";
import { makeRow, USUAL_ROW } from "./rows.ts";
import { feltWords, handlerWords, optionsOf, surfaceWords } from "./words.ts";

interface WrittenProps {
  session: Session;
  dogs: Dog[];
  units: Units;
  change(part: Change<Session>): Promise<void>;
}

/** What was done and how it went, kept as it is typed. */
export function Written({ session, dogs, units, change }: WrittenProps) {
  const [notes, setNotes] = useState(session.notes);
  const dogHere = dogs.some((dog) => dog.id === session.dogId);
  return (
    <section className="sheet stack" aria-labelledby="details">
      <h2 id="details">Written down</h2>
      <div className="kennel-pair">
        <label className="field">
          Dog
          <select
            value={dogHere ? (session.dogId ?? "") : ""}
            onChange={(event) => {
              const dog = dogs.find((one) => one.id === event.target.value);
              void change({ dogId: dog?.id ?? null, dogName: dog?.name ?? "" });
            }}
          >
            <option value="">
              {session.dogName && !dogHere ? `${session.dogName} (removed)` : "No dog named"}
            </option>
            {dogs.map((dog) => (
              <option key={dog.id} value={dog.id}>
                {dog.name}
              </option>
            ))}
          </select>
        </label>
        <label className="field">
          When
          <input
            type="datetime-local"
            value={localTime(session.date)}
            onChange={(event) => {
              const date = new Date(event.target.value).getTime();
              if (Number.isFinite(date)) void change({ date });
            }}
          />
        </label>
      </div>
      <SessionRow
        session={session}
        dog={dogs.find((one) => one.id === session.dogId)}
        units={units}
        change={change}
      />
      <div className="kennel-pair">
        <Choice<PoleGait>
          label="Gait"
          value={session.gait}
          options={[
            { value: "walk", name: "Walk" },
            { value: "trot", name: "Trot" },
          ]}
          onChange={(gait) => change({ gait })}
        />
        <label className="field">
          Aim
          <select value={session.aim} onChange={(event) => change({ aim: event.target.value as AimId })}>
            {optionsOf(aimName).map(({ value, name }) => (
              <option key={value} value={value}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <label className="field">
          Ground
          <select
            value={session.surface ?? ""}
            onChange={(event) => change({ surface: (event.target.value || null) as Surface | null })}
          >
            <option value="">Not said</option>
            {optionsOf(surfaceWords).map(({ value, name }) => (
              <option key={value} value={value}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <label className="field">
          Handler
          <select
            value={session.handlerSide ?? ""}
            onChange={(event) => change({ handlerSide: (event.target.value || null) as HandlerSide | null })}
          >
            <option value="">Not said</option>
            {optionsOf(handlerWords).map(({ value, name }) => (
              <option key={value} value={value}>
                {name}
              </option>
            ))}
          </select>
        </label>
      </div>
      <label className="field">
        How the dog was
        <select
          value={session.howDogFelt ?? ""}
          onChange={(event) => change({ howDogFelt: (event.target.value || null) as HowDogFelt | null })}
        >
          <option value="">Not said</option>
          {optionsOf(feltWords).map(({ value, name }) => (
            <option key={value} value={value}>
              {name}
            </option>
          ))}
        </select>
      </label>
      {(session.howDogFelt === "unwilling" || session.howDogFelt === "sore") && (
        <Note weight="warn">
          Leave the poles for today. If it limps into the next day, puts no weight on a leg or collapses, call
          the veterinarian.
        </Note>
      )}
      <label className="field">
        Knocks, counted by eye
        <input
          className="kennel-count"
          inputMode="numeric"
          defaultValue={session.knocksSeen ?? ""}
          aria-describedby="knocks-hint"
          onChange={(event) => {
            const typed = event.target.value.trim();
            if (typed === "") void change({ knocksSeen: null });
            else if (/^\d{1,3}$/.test(typed)) void change({ knocksSeen: Number(typed) });
          }}
        />
        <span className="hint" id="knocks-hint">
          Over the whole session. Leave it empty if you did not count.
        </span>
      </label>
      <label className="field">
        Notes
        <textarea
          rows={4}
          maxLength={8000}
          value={notes}
          onChange={(event) => {
            setNotes(event.target.value);
            void change({ notes: event.target.value });
          }}
        />
      </label>
    </section>
  );
}

interface SessionRowProps {
  session: Session;
  dog: Dog | undefined;
  units: Units;
  change(part: Change<Session>): Promise<void>;
}

/** The row as it was laid, which need not be the one that was planned. */
function SessionRow({ session, dog, units, change }: SessionRowProps) {
  const layout = session.bareGround ? null : session.layout;
  const shown = session.layout ?? dog?.plan?.layout ?? makeRow(USUAL_ROW);
  return (
    <>
      {layout ? (
        <div>
          <h3>The row</h3>
          <PlanDrawing layout={layout} units={units} />
        </div>
      ) : (
        <p className="soft">Bare ground between marks, no poles.</p>
      )}
      <details className="fold">
        <summary>{layout ? "It was laid differently" : "There were poles"}</summary>
        <div className="stack">
          <RowEditor
            layout={shown}
            gait={session.gait}
            aim={session.aim}
            measures={dog?.measures ?? NO_MEASURES}
            units={units}
            onChange={(row) => change({ layout: row, bareGround: false })}
          />
          <button
            type="button"
            className="button"
            onClick={() => change(layout ? { bareGround: true } : { bareGround: false, layout: shown })}
          >
            {layout ? "Bare ground between marks, no poles" : "It was this row"}
          </button>
        </div>
      </details>
    </>
  );
}

/** The value of a date-and-time field: local time without a zone. */
function localTime(ms: number): string {
  const at = new Date(ms);
  return new Date(ms - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
}
