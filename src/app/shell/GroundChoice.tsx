import { useId } from "react";

interface GroundChoiceProps {
  bareGround: boolean;
  onChange(bareGround: boolean): void;
}

/** Poles, or bare ground between two marks: what a clip can be asked depends on it. */
export function GroundChoice({ bareGround, onChange }: GroundChoiceProps) {
  const name = useId();
  return (
    <fieldset className="field">
      <legend>On the ground</legend>
      <div className="choice">
        <label>
          <input type="radio" name={name} checked={!bareGround} onChange={() => onChange(false)} />
          poles
        </label>
        <label>
          <input type="radio" name={name} checked={bareGround} onChange={() => onChange(true)} />
          two marks only
        </label>
      </div>
      {bareGround && (
        <span className="hint">
          No poles: the dog's own step is measured. Mark both ends of the two marks and type how far apart
          they lie.
        </span>
      )}
    </fieldset>
  );
}
