import { type ReactNode, useId, useState } from "react";
import type { Units } from "../../store/types.ts";
import { lengthNumber, metresTyped, unitName } from "../lengths.ts";

interface LengthFieldProps {
  label: ReactNode;
  hint?: ReactNode;
  valueM: number | null;
  units: Units;
  /** null: the field is empty or holds no number. */
  onChange(valueM: number | null): void;
  /** What is wrong with it, a sentence. */
  problem?: string | null | undefined;
  placeholder?: string | undefined;
  decimals?: number | undefined;
}

/** Typed length in the unit of the screen, handed on in metres. What is typed stays as typed. */
export function LengthField({
  label,
  hint,
  valueM,
  units,
  onChange,
  problem,
  placeholder,
  decimals = 1,
}: LengthFieldProps) {
  const id = useId();
  const [text, setText] = useState("");
  const shown = metresTyped(text, units);
  const same = valueM === null ? shown === null : shown !== null && Math.abs(shown - valueM) < 5e-5;
  // Changed from elsewhere (undo, another unit, a row taken from the dog): show that.
  const value = same ? text : valueM === null ? "" : trimmed(lengthNumber(valueM, units, decimals));
  const unreadable = text.trim() !== "" && shown === null && same;
  return (
    <label className="field" htmlFor={id}>
      <span>{label}</span>
      {hint && <span className="hint">{hint}</span>}
      <span className="field-with-unit">
        <input
          id={id}
          inputMode="decimal"
          autoComplete="off"
          placeholder={placeholder}
          value={value}
          aria-invalid={Boolean(problem) || unreadable}
          aria-describedby={problem || unreadable ? `${id}-problem` : undefined}
          onChange={(event) => {
            setText(event.currentTarget.value);
            onChange(metresTyped(event.currentTarget.value, units));
          }}
        />
        <span className="soft">{unitName[units]}</span>
      </span>
      {(problem || unreadable) && (
        <span id={`${id}-problem`} className="field-problem" role="alert">
          {problem ?? "Type a plain number, such as 45."}
        </span>
      )}
    </label>
  );
}

function trimmed(number: string): string {
  return number.includes(".") ? number.replace(/\.?0+$/, "") : number;
}
