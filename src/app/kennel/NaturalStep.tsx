import { useCallback, useId } from "react";
import { drawBareSteps } from "../../charts/bare-steps.ts";
import type { NaturalStep } from "../../spacing/natural-step.ts";
import type { PoleGait } from "../../spacing/types.ts";
import type { Estimate } from "../../stats/types.ts";
import type { Session, Units } from "../../store/types.ts";
import { length } from "../lengths.ts";
import { Note } from "../shell/Note.tsx";
import "../verdict/verdict.css";
import { changeBetween } from "./change.ts";
import { Drawn } from "./Drawn.tsx";
import { dayName } from "./words.ts";

interface NaturalStepProps {
  natural: NaturalStep;
  gait: PoleGait;
  /** The newest session of the same dog and gait over poles, to compare with. */
  overPoles: Session | undefined;
  units: Units;
}

/** What a session over bare ground says: the step that is the dog's own. */
export function NaturalStepSheet({ natural, gait, overPoles, units }: NaturalStepProps) {
  const id = useId();
  const { stepM, speedMps, passes } = natural;
  const draw = useCallback(
    (width: number) => drawBareSteps({ passes, stepM: stepM?.value ?? null }, { width, units, id }),
    [passes, stepM, units, id],
  );
  const row = overPoles?.judgement?.stepM ?? null;
  return (
    <section className="verdict" data-kind={stepM ? "fits" : "cannot-tell"} aria-label="Natural step">
      <h2 className="verdict-kind">Natural step</h2>
      {stepM ? (
        <p className="act-on">
          <span>Its own step at a {gait}</span>
          <strong>{length(stepM.value, units, 1)}</strong>
          {speedMps && <span>at {speedMps.value.toFixed(2)} m/s</span>}
        </p>
      ) : (
        <p className="verdict-sentence">{natural.sentence}</p>
      )}
      {passes.some((pass) => pass.used) && (
        <figure className="verdict-picture">
          <Drawn draw={draw} />
        </figure>
      )}
      <p className="verdict-evidence">{natural.evidence}</p>
      {stepM && row && overPoles && <p>{comparison(stepM, row, dayName(overPoles.date), units)}</p>}
      {natural.leftRight && <p>{natural.leftRight.sentence}</p>}
      <Note>
        <strong>Next time.</strong> {natural.nextTime}
      </Note>
    </section>
  );
}

function comparison(own: Estimate, row: Estimate, day: string, units: Units): string {
  const { difference, smallest, real } = changeBetween(own, row);
  const share = Math.abs((100 * difference) / own.value).toFixed(0);
  if (!real) {
    return `Over poles on ${day} its step was ${length(row.value, units, 1)}: its own, as far as the two can tell (up to ${length(smallest, units, 1)} can be chance).`;
  }
  return `Over poles on ${day} its step was ${length(row.value, units, 1)}: ${share} % ${difference > 0 ? "longer than" : "short of"} its own. The poles pull it there.`;
}
