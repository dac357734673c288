import type { GroundFit, PoleMarks, PoleResidual } from "../../ground/types.ts";
import type { Units } from "../../store/types.ts";
import { lengthNumber, unitName } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";
import { type End, type Slot, sameSlot } from "./marking.ts";

interface PoleListProps {
  marks: PoleMarks;
  fit: GroundFit | null;
  units: Units;
  chosen: Slot | null;
  onChoose(slot: Slot): void;
  /** Asks for an end that is not marked yet. */
  onRetap(slot: Slot): void;
  onRemove(pole: number): void;
}

/** Every pole with its ends and how far it lies from where the others put it. */
export function PoleList({ marks, fit, units, chosen, onChoose, onRetap, onRemove }: PoleListProps) {
  if (marks.poles.length === 0) return null;
  const doubted = new Set(fit?.residuals.filter((one) => one.suspect).map((one) => one.pole));
  return (
    <section className="stack-tight" aria-label="Marked poles">
      <h2>Poles</h2>
      <ul className="pole-list">
        {marks.poles
          .map((pole, k) => ({ pole, k, number: k + 1 }))
          .map(({ pole, k, number }) => (
            <li key={number} className={doubted.has(k) ? "pole-list-doubted" : ""}>
              <span className="pole-list-number">{number}</span>
              {(["near", "far"] satisfies End[]).map((end) => {
                const slot = { pole: k, end };
                const there = Boolean(pole[end]);
                return (
                  <button
                    key={end}
                    type="button"
                    className="button pole-list-end"
                    aria-pressed={sameSlot(chosen, slot)}
                    aria-label={there ? `Choose pole ${k + 1}, ${end} end` : `Mark pole ${k + 1}, ${end} end`}
                    onClick={() => (there ? onChoose(slot) : onRetap(slot))}
                  >
                    {there ? end : `+ ${end}`}
                  </button>
                );
              })}
              <Residual residual={fit?.residuals.find((one) => one.pole === k)} units={units} />
              <button
                type="button"
                className="button button-quiet button-icon"
                aria-label={`Take pole ${k + 1} away`}
                onClick={() => onRemove(k)}
              >
                <Icon name="bin" size={20} />
              </button>
            </li>
          ))}
      </ul>
    </section>
  );
}

function Residual({ residual, units }: { residual: PoleResidual | undefined; units: Units }) {
  if (!residual) return <span className="pole-list-off soft small" />;
  const off = lengthNumber(residual.alongM, units, 1);
  return (
    <span
      className="pole-list-off small"
      title="How far this pole lies along the row from where the others put it"
    >
      {residual.suspect && <Icon name="warn" size={18} />}
      {Number(off) > 0 ? "+" : ""}
      {off.replace("-", "−")} {unitName[units]}
    </span>
  );
}
