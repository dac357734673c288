import { useId, useState } from "react";
import { gatesOf } from "../../spacing/cautions.ts";
import type { Clearance, Dog } from "../../store/types.ts";
import { Note } from "../shell/Note.tsx";
import { cautionWords } from "./words.ts";

interface ClearanceFieldsProps {
  name: string;
  clearance: Clearance | null;
  onChange(clearance: Clearance | null): void;
}

/** "A veterinarian has cleared it", and who. The box counts only with a name beside it. */
export function ClearanceFields({ name, clearance, onChange }: ClearanceFieldsProps) {
  const [ticked, setTicked] = useState(clearance !== null);
  const [who, setWho] = useState(clearance?.who ?? "");
  const [day, setDay] = useState(clearance?.day ?? today());
  const id = useId();
  const tell = (on: boolean, vet: string, when: string) =>
    onChange(on && vet.trim() !== "" && when !== "" ? { who: vet.trim(), day: when } : null);
  return (
    <div className="kennel-clearance stack-tight">
      <label className="kennel-check">
        <input
          type="checkbox"
          checked={ticked}
          onChange={(event) => {
            setTicked(event.target.checked);
            tell(event.target.checked, who, day);
          }}
        />
        <span>A veterinarian has examined {name} and cleared it for pole work</span>
      </label>
      {ticked && (
        <div className="kennel-pair">
          <label className="field" htmlFor={`${id}-who`}>
            Who
            <input
              id={`${id}-who`}
              value={who}
              maxLength={120}
              autoComplete="off"
              onChange={(event) => {
                setWho(event.target.value);
                tell(true, event.target.value, day);
              }}
            />
          </label>
          <label className="field" htmlFor={`${id}-day`}>
            Day
            <input
              id={`${id}-day`}
              type="date"
              value={day}
              max={today()}
              onChange={(event) => {
                setDay(event.target.value);
                tell(true, who, event.target.value);
              }}
            />
          </label>
        </div>
      )}
    </div>
  );
}

/** Stands in the place of a plan until a veterinarian has cleared the dog. */
export function ClearanceGate({ dog, onClear }: { dog: Dog; onClear(clearance: Clearance): void }) {
  const [clearance, setClearance] = useState<Clearance | null>(null);
  const gates = gatesOf(dog.cautions);
  return (
    <section className="sheet stack" aria-labelledby="gate">
      <h2 id="gate">First the veterinarian</h2>
      <p>
        You noted for {dog.name}: {gates.map(({ id }) => cautionWords[id].name.toLowerCase()).join(", ")}.
        This program plans no row before a veterinarian has cleared the dog for it.
      </p>
      {gates.map(({ id, sentence }) => (
        <Note key={id} weight="warn">
          {sentence}
        </Note>
      ))}
      <ClearanceFields name={dog.name} clearance={null} onChange={setClearance} />
      <button
        type="button"
        className="button button-go"
        disabled={!clearance}
        onClick={() => clearance && onClear(clearance)}
      >
        Go on
      </button>
    </section>
  );
}

export function isCleared(dog: Dog): boolean {
  return gatesOf(dog.cautions).length === 0 || dog.clearance !== null;
}

function today(): string {
  const now = new Date();
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, "0")}-${String(now.getDate()).padStart(2, "0")}`;
}
