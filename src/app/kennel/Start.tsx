import { Link } from "wouter";
import { startingSpacing } from "../../spacing/start.ts";
import type { Layout } from "../../spacing/types.ts";
import type { Dog, Units } from "../../store/types.ts";
import { length } from "../lengths.ts";
import type { KnownStep } from "./own-step.ts";
import { makeRow, USUAL_ROW } from "./rows.ts";

interface StartProps {
  dog: Dog;
  /** Its step over bare ground at this gait, where it was measured. */
  known: KnownStep | null;
  units: Units;
  onPlan(layout: Layout, reasons: string[]): void;
}

/** Where to begin, worked out from the dog's own step or its body, with every step of the reasoning. */
export function Start({ dog, known, units, onPlan }: StartProps) {
  const stepM = known?.natural.stepM;
  const start = startingSpacing(dog.measures, dog.gait, dog.aim, {
    shortLegged: dog.shortLegged,
    units,
    ownStep: stepM ? { stepM: stepM.value, intervalM: stepM.interval } : null,
  });
  const { spacingM, heightM, reasons } = start;
  return (
    <div className="stack">
      {spacingM !== null && (
        <p className="kennel-number">
          {length(spacingM, units, units === "in" ? 1 : 0)} <span className="soft small">pole to pole</span>
          {heightM > 0 && (
            <>
              , {length(heightM, units)} <span className="soft small">high</span>
            </>
          )}
        </p>
      )}
      <ul className="kennel-reasons">
        {reasons.map((reason) => (
          <li key={reason}>{reason}</li>
        ))}
      </ul>
      <div className="kennel-answers">
        {spacingM === null ? (
          <Link href={`/dogs/${dog.id}/edit`} className="button button-go">
            Measure {dog.name}
          </Link>
        ) : (
          <button
            type="button"
            className="button button-go"
            onClick={() => onPlan(makeRow({ ...USUAL_ROW, spacingM, heightM }), reasons)}
          >
            Plan this row
          </button>
        )}
        {!dog.plan && (
          <button
            type="button"
            className="button"
            onClick={() => onPlan(makeRow(USUAL_ROW), ["Set by hand."])}
          >
            Set it by hand
          </button>
        )}
      </div>
    </div>
  );
}
