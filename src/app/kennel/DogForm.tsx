import { useCallback, useEffect, useRef, useState } from "react";
import { useLocation } from "wouter";
import { gatesOf } from "../../spacing/cautions.ts";
import type { AimId, PoleGait } from "../../spacing/types.ts";
import type { CautionId, Dog, Draft, Keeper } from "../../store/types.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { LengthField } from "../shell/LengthField.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { aimName } from "../verdict/names.ts";
import { Choice } from "./Choice.tsx";
import { ClearanceFields } from "./Clearance.tsx";
import { DogDrawing } from "./DogDrawing.tsx";
import { Face } from "./Face.tsx";
import { lettersProblem, suggestLetters } from "./letters.ts";
import { MEASURES, type MeasureId, NO_MEASURES, outOfReach, questionsOn } from "./measures.ts";
import { smallPicture } from "./photo.ts";
import type { ScreenParams } from "./routes.tsx";
import { cautionWords, optionsOf } from "./words.ts";

const blank: Draft<Dog> = {
  name: "",
  letters: "",
  photo: null,
  measures: NO_MEASURES,
  gait: "walk",
  aim: "first-poles",
  shortLegged: false,
  cautions: [],
  clearance: null,
  notes: "",
  plan: null,
};

/** Waits for what is kept, then lets it be edited. */
export default function DogForm({ dogId }: ScreenParams) {
  const read = useCallback(
    async (from: Keeper) => ({
      dog: dogId ? await from.dog(dogId) : undefined,
      others: (await from.dogs()).filter((dog) => dog.id !== dogId),
      settings: await from.settings(),
    }),
    [dogId],
  );
  const kept = useKept(read);
  if (kept.state === "reading") return <Waiting title="About the dog" />;
  if (kept.state === "failed") {
    return (
      <Screen title="About the dog" back="/dogs">
        <Note weight="stop">{kept.sentence}</Note>
      </Screen>
    );
  }
  const { dog, others, settings } = kept.value;
  if (dogId && !dog) {
    return (
      <Screen title="No such dog here" back="/dogs">
        <p>This dog is not on this device. It may have been removed, or the link is from another device.</p>
      </Screen>
    );
  }
  return <Form start={dog ?? blank} others={others} units={settings.units} />;
}

interface FormProps {
  start: Draft<Dog>;
  others: Dog[];
  units: "cm" | "in";
}

/** Every change is kept a moment later; a new dog is kept from its first letter on. */
function Form({ start, others: dogs, units }: FormProps) {
  const [, go] = useLocation();
  const [dog, setDog] = useState(start);
  const [problem, setProblem] = useState<string | null>(null);
  const [measuring, setMeasuring] = useState<MeasureId | null>(null);
  const [lettersTyped, setLettersTyped] = useState(start.letters !== "");
  const save = useSaving(start, setProblem);
  const here = useHere();
  const others = dogs.filter((one) => one.id !== save.keptId);

  const change = (part: Partial<Draft<Dog>>) => {
    const next = { ...dog, ...part };
    if (part.name !== undefined && !lettersTyped) next.letters = suggestLetters(part.name, others);
    setDog(next);
    save.soon(next);
  };
  const toggleCaution = (id: CautionId) =>
    change({
      cautions: dog.cautions.includes(id) ? dog.cautions.filter((one) => one !== id) : [...dog.cautions, id],
    });
  const choosePhoto = async (input: HTMLInputElement) => {
    const file = input.files?.[0];
    input.value = "";
    if (!file) return;
    try {
      change({ photo: await smallPicture(file) });
      setProblem(null);
    } catch (error) {
      setProblem(sentenceOf(error));
    }
  };
  const done = async () => {
    const id = await save.now();
    // Whoever left meanwhile is not called back.
    if (id && here.current) go(`/dogs/${id}`);
  };
  const watchMeasures = useCallback((box: HTMLDivElement | null) => {
    const onFocus = (event: FocusEvent) => {
      const field = event.target instanceof Element ? event.target.closest("[data-measure]") : null;
      setMeasuring((field?.getAttribute("data-measure") as MeasureId | null) ?? null);
    };
    box?.addEventListener("focusin", onFocus);
    return () => box?.removeEventListener("focusin", onFocus);
  }, []);
  const questions = questionsOn(dog.measures, units);
  // Nothing is missing before there is a name.
  const clash = dog.name.trim() === "" ? null : lettersProblem(dog.letters, others);
  const isNew = start.id === undefined;

  return (
    <Screen
      title={isNew ? "A new dog" : `About ${start.name}`}
      back={isNew ? "/dogs" : `/dogs/${start.id}`}
      actions={
        <button type="button" className="button button-go" disabled={dog.name.trim() === ""} onClick={done}>
          <Icon name="check" /> Done
        </button>
      }
    >
      {problem && <Note weight="stop">{problem}</Note>}
      <section className="sheet stack" aria-labelledby="who">
        <h2 id="who">Who</h2>
        <div className="kennel-who">
          <Face dog={dog} size={84} />
          <label className="button kennel-file">
            <Icon name="camera" /> {dog.photo ? "Other photo" : "Photo"}
            <input type="file" accept="image/*" onChange={(event) => choosePhoto(event.currentTarget)} />
          </label>
          {dog.photo && (
            <button type="button" className="button button-quiet" onClick={() => change({ photo: null })}>
              No photo
            </button>
          )}
        </div>
        <label className="field">
          Name
          <input
            value={dog.name}
            maxLength={60}
            autoComplete="off"
            onChange={(event) => change({ name: event.target.value })}
          />
        </label>
        <div className="field">
          <label htmlFor="letters">Letters on the cord</label>
          <span className="hint" id="letters-hint">
            One to three. Every dog its own.
          </span>
          <input
            id="letters"
            className="kennel-letters"
            value={dog.letters}
            maxLength={3}
            autoComplete="off"
            autoCapitalize="characters"
            aria-describedby={`letters-hint${clash ? " letters-problem" : ""}`}
            onChange={(event) => {
              setLettersTyped(true);
              change({
                letters: event.target.value
                  .toUpperCase()
                  .replace(/[^\p{L}\p{N}]/gu, "")
                  .slice(0, 3),
              });
            }}
          />
          {clash && (
            <span className="kennel-problem" id="letters-problem">
              {clash}
            </span>
          )}
        </div>
      </section>

      <section className="sheet stack" aria-labelledby="measures">
        <h2 id="measures">Measures</h2>
        <p className="soft small">
          On level ground, standing square, head up. Withers or point of shoulder is enough to begin; the rest
          can wait.
        </p>
        <div className="kennel-measures">
          <div className="kennel-measures-drawing">
            <DogDrawing current={measuring} />
          </div>
          <div className="stack" ref={watchMeasures}>
            {MEASURES.map(({ id, mark, name, tape, use }) => (
              <div key={id} data-measure={id}>
                <LengthField
                  label={`${mark} · ${name}`}
                  hint={measuring === id ? tape : use}
                  valueM={dog.measures[id]}
                  units={units}
                  problem={outOfReach(dog.measures[id], units)}
                  onChange={(metres) => change({ measures: { ...dog.measures, [id]: metres } })}
                />
              </div>
            ))}
            <label className="kennel-check">
              <input
                type="checkbox"
                checked={dog.shortLegged}
                onChange={(event) => change({ shortLegged: event.target.checked })}
              />
              <span>
                Short legs, long body
                <span className="soft small">
                  The first trot spacing then comes from twice the elbow height.
                </span>
              </span>
            </label>
          </div>
        </div>
        {questions.map(({ sentence }) => (
          <Note key={sentence} weight="warn">
            {sentence}
          </Note>
        ))}
      </section>

      <section className="sheet stack" aria-labelledby="poles">
        <h2 id="poles">Through the poles</h2>
        <Choice<PoleGait>
          label="Gait"
          value={dog.gait}
          options={[
            { value: "walk", name: "Walk" },
            { value: "trot", name: "Trot" },
          ]}
          onChange={(gait) => change({ gait })}
        />
        <label className="field">
          Aim
          <select value={dog.aim} onChange={(event) => change({ aim: event.target.value as AimId })}>
            {optionsOf(aimName).map(({ value, name }) => (
              <option key={value} value={value}>
                {name}
              </option>
            ))}
          </select>
        </label>
      </section>

      <section className="sheet stack" aria-labelledby="cautions">
        <h2 id="cautions">Cautions</h2>
        <p className="soft small">
          Tick what you know of. Poles are then planned only after a veterinarian has cleared the dog for
          them.
        </p>
        <ul className="stack-tight">
          {(Object.keys(cautionWords) as CautionId[]).map((id) => (
            <li key={id}>
              <label className="kennel-check">
                <input
                  type="checkbox"
                  checked={dog.cautions.includes(id)}
                  onChange={() => toggleCaution(id)}
                />
                <span>
                  {cautionWords[id].name}
                  <span className="soft small">{cautionWords[id].detail}</span>
                </span>
              </label>
            </li>
          ))}
        </ul>
        {gatesOf(dog.cautions).length > 0 && (
          <ClearanceFields
            name={dog.name || "this dog"}
            clearance={dog.clearance}
            onChange={(clearance) => change({ clearance })}
          />
        )}
      </section>

      <label className="field">
        Notes
        <textarea
          rows={3}
          maxLength={4000}
          value={dog.notes}
          onChange={(event) => change({ notes: event.target.value })}
        />
      </label>
    </Screen>
  );
}

/** True until the screen is left. */
function useHere() {
  const here = useRef(true);
  useEffect(() => {
    here.current = true;
    return () => {
      here.current = false;
    };
  }, []);
  return here;
}

/** Lengths that no dog has stay in their field and are not kept. */
function storable(draft: Draft<Dog>): Draft<Dog> {
  const measures = { ...draft.measures };
  for (const { id } of MEASURES) if (outOfReach(measures[id], "cm")) measures[id] = null;
  return { ...draft, measures };
}

const quietMs = 400;

/** Keeps the last draft given, a moment after it was given or when the screen is left; one write at a time. */
function useSaving(start: Draft<Dog>, onProblem: (sentence: string | null) => void) {
  const id = useRef(start.id);
  const [keptId, setKeptId] = useState(start.id);
  const waiting = useRef<Draft<Dog> | null>(null);
  const timer = useRef<ReturnType<typeof setTimeout>>(undefined);
  const writing = useRef(Promise.resolve());

  const now = useCallback(async (): Promise<string | undefined> => {
    clearTimeout(timer.current);
    const draft = waiting.current;
    waiting.current = null;
    if (draft && draft.name.trim() !== "") {
      writing.current = writing.current.then(async () => {
        try {
          const { id: _, changedAt: __, addedAt: ___, plan: ____, ...fields } = storable(draft);
          const store = await keeper();
          // The plan belongs to the layout screen and may have changed meanwhile.
          if (id.current) await store.changeDog(id.current, fields);
          else {
            id.current = (await store.putDog({ ...fields, plan: null })).id;
            setKeptId(id.current);
          }
          onProblem(null);
        } catch (error) {
          onProblem(sentenceOf(error));
        }
      });
    }
    await writing.current;
    return id.current;
  }, [onProblem]);

  useEffect(() => {
    const leave = () => void now();
    window.addEventListener("pagehide", leave);
    return () => {
      window.removeEventListener("pagehide", leave);
      leave();
    };
  }, [now]);

  return {
    /** The id once the dog is kept. */
    keptId,
    now,
    soon(draft: Draft<Dog>) {
      waiting.current = draft;
      clearTimeout(timer.current);
      timer.current = setTimeout(() => void now(), quietMs);
    },
  };
}
