import type { PoleMarks } from "../../ground/types.ts";
import type { Units } from "../../store/types.ts";
import { Icon } from "../shell/Icon.tsx";
import { LengthField } from "../shell/LengthField.tsx";

interface WithersFieldsProps {
  upright: PoleMarks["upright"];
  units: Units;
  onAsk(): void;
  onChange(upright: PoleMarks["upright"]): void;
}

/** The last resort where too few pole ends can be seen: the dog's own height, standing in the row on the marked frame. */
export function WithersFields({ upright, units, onAsk, onChange }: WithersFieldsProps) {
  return (
    <section className="stack-tight" aria-label="The dog's height">
      <h2>The dog's height</h2>
      <p className="soft small">
        Where only a few pole ends can be seen, the height of the dog helps, roughly: on a frame on which it
        stands upright in the row, mark the ground under its forefeet and its withers straight above.
      </p>
      {upright ? (
        <>
          <LengthField
            label="Floor to withers"
            hint="measured"
            valueM={upright.heightM}
            units={units}
            onChange={(heightM) => heightM && onChange({ ...upright, heightM })}
          />
          <button type="button" className="button button-quiet" onClick={() => onChange(undefined)}>
            <Icon name="bin" size={20} /> Do without the dog's height
          </button>
        </>
      ) : (
        <button type="button" className="button" onClick={onAsk}>
          <Icon name="ruler" /> Mark the dog's height
        </button>
      )}
    </section>
  );
}
