import type { Paw } from "../../gait/types.ts";
import { Icon } from "../shell/Icon.tsx";
import { PawSign, pawName } from "../shell/PawShape.tsx";

interface AddLandingProps {
  /** The paw whose landing the next tap on the picture adds; null for none. */
  adding: Paw | null;
  onAdding(paw: Paw | null): void;
  /** Chooses the landing that comes next in time; null while there is none at all. */
  onNext: (() => void) | null;
}

/** One button for each paw: press it, then tap where that paw stands. */
export function AddLanding({ adding, onAdding, onNext }: AddLandingProps) {
  return (
    <section className="add-landing" aria-label="Add a landing">
      <span>Add</span>
      {(["LH", "RH", "LF", "RF"] satisfies Paw[]).map((paw) => (
        <button
          key={paw}
          type="button"
          className="button"
          aria-pressed={adding === paw}
          aria-label={`Add a ${pawName[paw]} landing`}
          onClick={() => onAdding(adding === paw ? null : paw)}
        >
          <PawSign paw={paw} />
        </button>
      ))}
      {adding ? (
        <button type="button" className="button" onClick={() => onAdding(null)}>
          Done
        </button>
      ) : (
        <button
          type="button"
          className="button"
          aria-label="To the next landing"
          disabled={!onNext}
          onClick={onNext ?? undefined}
        >
          <Icon name="right" />
        </button>
      )}
    </section>
  );
}
