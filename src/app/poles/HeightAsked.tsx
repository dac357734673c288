import { heightLeftOutShare } from "../../ground/quality.ts";
import type { GroundMap } from "../../ground/types.ts";
import type { Units } from "../../store/types.ts";
import { length } from "../lengths.ts";
import { Note } from "../shell/Note.tsx";

interface HeightAskedProps {
  map: GroundMap;
  units: Units;
  onGround(): void;
}

/** A usual low stand, metres. */
const someStandM = 0.05;

/** Asked once for every row: what no tap can show, and what would quietly change every length. */
export function HeightAsked({ map, units, onGround }: HeightAskedProps) {
  const share = heightLeftOutShare(map, someStandM);
  if (share === null) return null;
  return (
    <Note>
      <p>
        Do the poles lie on the ground? On stands, type their height under "Height tapped":{" "}
        {length(someStandM, units)} left out make every step {Math.round(100 * share)} % too short. With one
        end raised, type the height of the middle.
      </p>
      <div className="line other-frame">
        <button type="button" className="button" onClick={onGround}>
          They lie on the ground
        </button>
      </div>
    </Note>
  );
}
