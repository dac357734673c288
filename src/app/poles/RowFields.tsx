import { ASSUMED_POLE_LENGTH_M } from "../../ground/marks.ts";
import type { PoleMarks } from "../../ground/types.ts";
import type { Units } from "../../store/types.ts";
import { length } from "../lengths.ts";
import { LengthField } from "../shell/LengthField.tsx";
import { gapOf, type Row } from "./marking.ts";

interface RowFieldsProps {
  row: Row;
  /** Poles marked so far. */
  poles: number;
  units: Units;
  poleLengthM: number | null;
  poleHeightM: number | null;
  onRow(row: Row): void;
  onPole(change: Pick<PoleMarks, "poleLengthM" | "poleHeightM">): void;
  onUnits(units: Units): void;
}

/** The lengths that turn pixels into centimetres: the spacing, or each gap; and, better known than guessed, the poles. */
export function RowFields(props: RowFieldsProps) {
  const { row, poles, units, onRow } = props;
  const gaps = Math.max(1, poles - 1);
  const setGap = (gap: number, valueM: number | null) => {
    const gapsM = Array.from({ length: gaps }, (_, k) => (k === gap ? valueM : gapOf(row, k)));
    onRow({ even: false, spacingM: null, gapsM });
  };
  return (
    <section className="stack-tight" aria-label="Lengths">
      <div className="row-choices">
        <div className="choice" role="radiogroup" aria-label="Are all gaps the same?">
          <label>
            <input
              type="radio"
              name="even"
              checked={row.even}
              onChange={() => onRow({ ...row, even: true, spacingM: row.spacingM ?? row.gapsM[0] ?? null })}
            />
            even gaps
          </label>
          <label>
            <input
              type="radio"
              name="even"
              checked={!row.even}
              onChange={() =>
                onRow({ ...row, even: false, gapsM: Array.from({ length: gaps }, (_, k) => gapOf(row, k)) })
              }
            />
            uneven
          </label>
        </div>
        <div className="choice" role="radiogroup" aria-label="Unit of length">
          {(["cm", "in"] satisfies Units[]).map((unit) => (
            <label key={unit}>
              <input
                type="radio"
                name="units"
                checked={units === unit}
                onChange={() => props.onUnits(unit)}
              />
              {unit}
            </label>
          ))}
        </div>
      </div>
      {row.even ? (
        <LengthField
          label="Spacing, pole to pole"
          valueM={row.spacingM}
          units={units}
          placeholder={units === "cm" ? "45" : "18"}
          onChange={(spacingM) => onRow({ ...row, spacingM })}
        />
      ) : (
        <div className="row-gaps">
          {Array.from({ length: gaps }, (_, gap) => ({ gap, label: `${gap + 1} to ${gap + 2}` })).map(
            ({ gap, label }) => (
              <LengthField
                key={label}
                label={label}
                valueM={gapOf(row, gap)}
                units={units}
                onChange={(valueM) => setGap(gap, valueM)}
              />
            ),
          )}
        </div>
      )}
      <div className="row-gaps">
        <LengthField
          label="Pole length"
          hint="end to end"
          valueM={props.poleLengthM}
          units={units}
          onChange={(valueM) => props.onPole({ poleLengthM: valueM || undefined })}
        />
        <LengthField
          label="Height tapped"
          hint="above the ground"
          valueM={props.poleHeightM}
          units={units}
          placeholder="0"
          onChange={(valueM) => props.onPole({ poleHeightM: valueM ?? undefined })}
        />
      </div>
      {props.poleLengthM === null && (
        <p className="soft small">
          Without a pole length, poles of about {length(ASSUMED_POLE_LENGTH_M, units)} are assumed and the
          picture says how far that is off. A measured length is surer.
        </p>
      )}
    </section>
  );
}
