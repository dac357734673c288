import type { Pass, SetAside } from "../../gait/types.ts";
import type { Knock } from "../../ground/knocks.ts";
import type { PassDecision } from "../../spacing/types.ts";
import type { Units } from "../../store/types.ts";
import { length } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";

interface PassListProps {
  passes: readonly Pass[];
  setAside: readonly SetAside[];
  knocks: readonly Knock[];
  units: Units;
  /** Why the verdict leaves a pass out, by pass id. */
  leftOut: Record<string, string>;
  choices: Record<string, PassDecision>;
  passId: string | null;
  onPass(passId: string): void;
  onChoice(passId: string, choice: PassDecision | null): void;
  onTime(timeS: number): void;
}

/** The passes of the clip and the stretches that are none, each with its reason. */
export function PassList(props: PassListProps) {
  const { passes, setAside, leftOut, choices, passId } = props;
  if (passes.length + setAside.length === 0) return null;
  return (
    <section className="stack-tight" aria-label="Passes">
      <h2>Passes</h2>
      <ul className="pass-list">
        {passes.map((pass, k) => {
          const choice = choices[pass.id];
          const byProgram = leftOut[pass.id];
          const counts = choice?.use ?? byProgram === undefined;
          const hind = pass.landings.filter((one) => one.paw.endsWith("H")).length;
          return (
            <li key={pass.id} data-out={!counts}>
              <button
                type="button"
                className="pass-list-main"
                aria-pressed={pass.id === passId}
                onClick={() => props.onPass(pass.id)}
              >
                <strong>
                  Pass {k + 1}, {pass.direction === 1 ? "first pole to last" : "last pole to first"}
                </strong>
                <span className="soft small">
                  {pass.startS.toFixed(1)} to {pass.endS.toFixed(1)} s · {hind} hind landings ·{" "}
                  {pass.speedMps.toFixed(2)} m/s{pass.gait === "unclear" ? "" : ` · ${pass.gait}`}
                </span>
                {props.knocks
                  .filter((knock) => knock.passId === pass.id)
                  .map((knock) => (
                    <span key={knock.pole} className="small pass-list-reason">
                      {knockTold(knock, props.units)}
                    </span>
                  ))}
                {!counts && (
                  <span className="small pass-list-reason">
                    Does not count: {choice ? choice.reason : byProgram}
                  </span>
                )}
                {counts && byProgram && (
                  <span className="small pass-list-reason">Kept in by you, though: {byProgram}</span>
                )}
              </button>
              <button
                type="button"
                className="button button-icon"
                aria-label={counts ? `Leave pass ${k + 1} out` : `Let pass ${k + 1} count`}
                aria-pressed={counts}
                onClick={() => props.onChoice(pass.id, otherwise(counts, byProgram !== undefined))}
              >
                <Icon name={counts ? "check" : "plus"} />
              </button>
            </li>
          );
        })}
        {setAside.map((one) => (
          <li key={`${one.startS} ${one.reason}`} data-out="true">
            <button type="button" className="pass-list-main" onClick={() => props.onTime(one.startS)}>
              <strong>No pass</strong>
              <span className="soft small">
                {one.startS.toFixed(1)} to {one.endS.toFixed(1)} s
              </span>
              <span className="small pass-list-reason">{one.reason}</span>
            </button>
          </li>
        ))}
      </ul>
    </section>
  );
}

/** The decision that turns a pass over; none where the program would decide so by itself. */
function otherwise(counts: boolean, outByProgram: boolean): PassDecision | null {
  if (counts) return outByProgram ? null : { use: false, reason: "left out by hand" };
  return outByProgram ? { use: true, reason: "" } : null;
}

function knockTold({ pole, timeS, shiftM }: Knock, units: Units): string {
  const way = shiftM === null ? "rolled away" : `moved ${length(Math.abs(shiftM), units, 0)}`;
  return `Pole ${pole + 1} was knocked at ${timeS.toFixed(1)} s and ${way}`;
}
