import { Icon } from "../shell/Icon.tsx";
import "./clip.css";

interface StretchProps {
  times: readonly number[];
  /** null: the whole clip. */
  range: [number, number] | null;
  /** Time of the frame on show. */
  here: number;
  onChange(range: [number, number] | null): void;
}

/** Above this, looking only at the passes saves minutes. */
export const longS = 30;
/** The shortest stretch worth looking at. */
const shortestS = 0.5;

/** Chooses the part of the clip to look at: from the frame on show, or up to it. */
export function Stretch({ times, range, here, onChange }: StretchProps) {
  const endS = times.at(-1) ?? 0;
  const [fromS, toS] = range ?? [0, endS];
  const place = (timeS: number) => `${endS > 0 ? (100 * timeS) / endS : 0}%`;
  const set = (from: number, to: number) => onChange(from <= 0 && to >= endS ? null : [from, to]);
  return (
    <section className="sheet stack-tight" aria-label="Stretch to look at">
      <div className="line-apart">
        <h2 className="minor">Look at</h2>
        <span>{range ? `${fromS.toFixed(1)} to ${toS.toFixed(1)} s` : "the whole clip"}</span>
      </div>
      <div className="stretch" aria-hidden="true">
        <div className="stretch-chosen" style={{ left: place(fromS), right: `calc(100% - ${place(toS)})` }} />
        <div className="stretch-here" style={{ left: place(here) }} />
      </div>
      <div className="choose-pair">
        <button
          type="button"
          className="button"
          disabled={here > toS - shortestS}
          onClick={() => set(here, toS)}
        >
          <Icon name="next" /> Start here
        </button>
        <button
          type="button"
          className="button"
          disabled={here < fromS + shortestS}
          onClick={() => set(fromS, here)}
        >
          End here <Icon name="back" />
        </button>
      </div>
      {range && (
        <button type="button" className="button button-quiet" onClick={() => onChange(null)}>
          The whole clip again
        </button>
      )}
      {endS > longS && !range && (
        <p className="soft small">
          This clip is long. In the strip under the picture go to just before a pass and press “Start here”,
          then just after it and “End here”: the rest is then not looked at. Three minutes at most can be.
        </p>
      )}
    </section>
  );
}
