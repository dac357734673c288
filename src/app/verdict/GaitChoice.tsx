import type { PoleGait } from "../../spacing/types.ts";

/** The gait that passes are judged for. */
export function GaitChoice({ gait, onGait }: { gait: PoleGait; onGait(gait: PoleGait): void }) {
  return (
    <fieldset className="field">
      <legend>Gait</legend>
      <div className="choice">
        {(["walk", "trot"] satisfies PoleGait[]).map((one) => (
          <label key={one}>
            <input type="radio" name="verdict-gait" checked={gait === one} onChange={() => onGait(one)} />
            {one}
          </label>
        ))}
      </div>
    </fieldset>
  );
}
