import { useMemo } from "react";
import type { ClipRecord, Session, Units } from "../../store/types.ts";
import { length } from "../lengths.ts";
import { Note } from "../shell/Note.tsx";
import { changeBetween } from "./change.ts";
import { naturalStep } from "./natural-step.ts";
import { dayName } from "./words.ts";

interface NaturalStepProps {
  clips: ClipRecord[];
  /** The newest session of the same dog and gait over poles, to compare with. */
  overPoles: Session | undefined;
  units: Units;
}

/** What a session over bare ground says: the step that is the dog's own. */
export function NaturalStepSheet({ clips, overPoles, units }: NaturalStepProps) {
  const natural = useMemo(() => naturalStep(clips), [clips]);
  const row = overPoles?.judgement?.stepM ?? null;
  return (
    <section className="sheet stack-tight" aria-labelledby="natural">
      <h2 id="natural">Natural step</h2>
      {natural ? (
        <>
          <p className="kennel-number">{length(natural.stepM.value, units, 1)}</p>
          <p className="soft small">
            95 % interval {length(natural.stepM.interval[0], units, 1)} to{" "}
            {length(natural.stepM.interval[1], units, 1)}, from {natural.stepM.n} hind steps over bare ground
            in {natural.passes} {natural.passes === 1 ? "pass" : "passes"}, at {natural.speedMps.toFixed(2)}{" "}
            m/s.
          </p>
          {row && overPoles && <p>{comparison(natural.stepM, row, dayName(overPoles.date), units)}</p>}
        </>
      ) : (
        <Note>
          No natural step yet: it takes three hind steps on bare ground between two marks, at one steady
          speed.
        </Note>
      )}
    </section>
  );
}

function comparison(
  own: Parameters<typeof changeBetween>[0],
  row: Parameters<typeof changeBetween>[1],
  day: string,
  units: Units,
): string {
  const { difference, smallest, real } = changeBetween(own, row);
  const share = Math.abs((100 * difference) / own.value).toFixed(0);
  if (!real) {
    return `Over poles on ${day} its step was ${length(row.value, units, 1)}: its own, as far as the two can tell (up to ${length(smallest, units, 1)} can be chance).`;
  }
  return `Over poles on ${day} its step was ${length(row.value, units, 1)}: ${share} % ${difference > 0 ? "longer than" : "short of"} its own. The poles pull it there.`;
}
