import { Icon } from "../shell/Icon.tsx";
import { UPRIGHT, wholePoles } from "./marking.ts";
import type { Marking } from "./useMarking.ts";

/** Short ways round the next tap: take what was found, let the others be found, or leave an end out. */
export function NextEnd({ marking, ready }: { marking: Marking; ready: boolean }) {
  const { marks, slot, suggested, seeking } = marking;
  if (slot.pole === UPRIGHT) return null;
  const whole = wholePoles(marks);
  return (
    <>
      {suggested && slot.end === "far" && (
        <button type="button" className="button button-go" onClick={marking.takeSuggested}>
          <Icon name="check" /> Take the dotted ring as its far end
        </button>
      )}
      {whole && slot.end === "near" && (
        <button type="button" className="button" disabled={seeking} onClick={marking.seekOthers}>
          <Icon name="poles" /> {seeking ? "Looking for the others …" : "Find the other poles"}
        </button>
      )}
      {!(ready && slot.end === "near") && (
        <button type="button" className="button button-quiet" onClick={marking.skip}>
          The {slot.end} end of pole {slot.pole + 1} can't be seen
        </button>
      )}
    </>
  );
}
