import { isDoubtful } from "../../charts/marks.ts";
import type { Landing, Pass, Paw } from "../../gait/types.ts";
import { placeLandings } from "../../spacing/place.ts";
import type { Layout } from "../../spacing/types.ts";
import type { Units } from "../../store/types.ts";
import { length, lengthNumber, unitName } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";
import { PawSign, pawName } from "../shell/PawShape.tsx";

interface LandingPanelProps {
  pass: Pass;
  landing: Landing;
  layout: Layout | null;
  units: Units;
  timeS: number;
  onChange(change: Partial<Landing>, key?: string): void;
  onRemove(): void;
  /** To the landing after this one, or before it. */
  onNext(by: 1 | -1): void;
  onClose(): void;
}

/** The chosen landing: what is known of it, and all that can be put right. */
export function LandingPanel({
  pass,
  landing,
  layout,
  units,
  timeS,
  onChange,
  onRemove,
  onNext,
  onClose,
}: LandingPanelProps) {
  const placed = layout && placeLandings(pass, layout).find((one) => one.id === landing.id);
  return (
    <section className="landing-panel" aria-label="The chosen landing">
      <div className="line-apart">
        <h2 className="line minor">
          <PawSign paw={landing.paw} doubtful={isDoubtful(landing)} /> {pawName[landing.paw]}
        </h2>
        <div className="line">
          <button
            type="button"
            className="button button-quiet button-icon"
            aria-label="The landing before"
            onClick={() => onNext(-1)}
          >
            <Icon name="left" />
          </button>
          <button
            type="button"
            className="button button-quiet button-icon"
            aria-label="The next landing"
            onClick={() => onNext(1)}
          >
            <Icon name="right" />
          </button>
          <button
            type="button"
            className="button button-quiet button-icon"
            aria-label="Close"
            onClick={onClose}
          >
            <Icon name="close" />
          </button>
        </div>
      </div>
      <p className="small">
        {placed?.gap != null && placed.offsetM !== null && placed.gapFraction !== null ? (
          <>
            Gap {placed.gap + 1}, {whereInGap(placed.offsetM, pass.direction, units)}
            {landing.xSeM > 0 && ` (± ${lengthNumber(1.96 * landing.xSeM, units, 1)} ${unitName[units]})`}
          </>
        ) : placed?.place === "approach" ? (
          "Before the first pole"
        ) : placed?.place === "leaving" ? (
          "After the last pole"
        ) : (
          `${length(landing.xM, units)} from the first pole`
        )}
        {" · "}
        {landing.onS.toFixed(2)} to {landing.offS.toFixed(2)} s{" · "}
        {landing.source === "hand"
          ? "by hand"
          : isDoubtful(landing)
            ? `doubtful (${Math.round(100 * landing.probability)} %)`
            : `${Math.round(100 * landing.probability)} % sure`}
      </p>
      <fieldset className="paw-choice">
        <legend className="for-reader-only">Which paw is it?</legend>
        {(["LH", "RH", "LF", "RF"] satisfies Paw[]).map((paw) => (
          <button
            key={paw}
            type="button"
            className="button"
            aria-pressed={landing.paw === paw}
            aria-label={pawName[paw]}
            onClick={() => onChange({ paw })}
          >
            <PawSign paw={paw} />
          </button>
        ))}
        <button
          type="button"
          className="button button-stop"
          aria-label="Delete this landing"
          onClick={onRemove}
        >
          <Icon name="bin" />
        </button>
      </fieldset>
      <div className="choose-pair">
        <button type="button" className="button small" onClick={() => onChange({ onS: timeS })}>
          Touches down in this frame
        </button>
        <button type="button" className="button small" onClick={() => onChange({ offS: timeS })}>
          Lifts off in this frame
        </button>
      </div>
      {isDoubtful(landing) && (
        <button type="button" className="button" onClick={() => onChange({})}>
          <Icon name="check" /> It is right
        </button>
      )}
    </section>
  );
}

function whereInGap(offsetM: number, direction: 1 | -1, units: Units): string {
  const ahead = offsetM * direction;
  const off = lengthNumber(Math.abs(ahead), units, 1);
  if (Number(off) === 0) return "in the middle";
  return `${off} ${unitName[units]} ${ahead > 0 ? "past" : "short of"} the middle`;
}
