import { useId } from "react";
import "./kennel.css";

interface ChoiceProps<T extends string> {
  label: string;
  options: readonly { value: T; name: string }[];
  value: T | null;
  onChange(value: T): void;
}

/** One of a few. */
export function Choice<T extends string>({ label, options, value, onChange }: ChoiceProps<T>) {
  const group = useId();
  return (
    <fieldset className="stack-tight">
      <legend className="kennel-legend">{label}</legend>
      <div className="choice">
        {options.map((option) => (
          <label key={option.value}>
            <input
              type="radio"
              name={group}
              checked={option.value === value}
              onChange={() => onChange(option.value)}
            />
            {option.name}
          </label>
        ))}
      </div>
    </fieldset>
  );
}
