import type { CSSProperties, PointerEvent } from "react";
import { isDoubtful } from "../../charts/marks.ts";
import type { Landing, Pass, Paw } from "../../gait/types.ts";
import { PawSign, pawName } from "../shell/PawShape.tsx";

interface TimeLaneProps {
  passes: readonly Pass[];
  /** Stretch of the clip on show, seconds. */
  span: [number, number];
  timeS: number;
  chosenId: string | null;
  onTime(timeS: number): void;
  onChoose(landingId: string): void;
}

const lanes: Paw[] = ["LF", "LH", "RF", "RH"];
/** At most this many times are written under the lanes. */
const mostTicks = 6;

/** A lane of time for each paw, a bar while it stands. Touch the lane to go there, a bar to choose its landing. */
export function TimeLane({ passes, span, timeS, chosenId, onTime, onChoose }: TimeLaneProps) {
  const [fromS, toS] = span;
  const lengthS = Math.max(0.1, toS - fromS);
  const along = (time: number) => Math.min(Math.max((time - fromS) / lengthS, 0), 1);
  const landings = passes.flatMap((pass) => pass.landings).filter((one) => one.offS > fromS && one.onS < toS);

  const seek = (event: PointerEvent<HTMLDivElement>) => {
    const rect = event.currentTarget.getBoundingClientRect();
    onTime(fromS + Math.min(Math.max((event.clientX - rect.left) / rect.width, 0), 1) * lengthS);
  };
  return (
    <section className="time-lane" aria-label="When each paw stands">
      <div className="time-lane-signs">
        {lanes.map((paw) => (
          <PawSign key={paw} paw={paw} size={20} />
        ))}
      </div>
      <div>
        <div
          className="time-lane-lanes"
          onPointerDown={(event) => {
            if ((event.target as Element).closest("button")) return;
            event.currentTarget.setPointerCapture(event.pointerId);
            seek(event);
          }}
          onPointerMove={(event) => {
            if (event.currentTarget.hasPointerCapture(event.pointerId)) seek(event);
          }}
        >
          {lanes.map((paw) => (
            <div key={paw} className="time-lane-lane">
              {landings
                .filter((one) => one.paw === paw)
                .map((one) => (
                  <StanceBar
                    key={one.id}
                    landing={one}
                    left={along(one.onS)}
                    right={along(one.offS)}
                    chosen={one.id === chosenId}
                    onChoose={() => onChoose(one.id)}
                  />
                ))}
            </div>
          ))}
          {timeS >= fromS && timeS <= toS && (
            <div className="time-lane-now" style={{ left: `${100 * along(timeS)}%` }} />
          )}
        </div>
        <div className="time-lane-ticks" aria-hidden="true">
          {ticksWithin(fromS, toS).map(({ time, text }) => (
            <span key={text} style={{ left: `${100 * along(time)}%` }}>
              {text}
            </span>
          ))}
        </div>
      </div>
    </section>
  );
}

interface StanceBarProps {
  landing: Landing;
  left: number;
  right: number;
  chosen: boolean;
  onChoose(): void;
}

function StanceBar({ landing, left, right, chosen, onChoose }: StanceBarProps) {
  const { paw, source } = landing;
  const doubtful = isDoubtful(landing);
  const place: CSSProperties = { left: `${100 * left}%`, width: `${100 * (right - left)}%` };
  return (
    <button
      type="button"
      className="stance-bar"
      style={place}
      data-side={paw.startsWith("L") ? "left" : "right"}
      data-girdle={paw.endsWith("H") ? "hind" : "fore"}
      data-doubtful={doubtful}
      data-source={source}
      aria-pressed={chosen}
      aria-label={`${pawName[paw]} stands from ${landing.onS.toFixed(2)} to ${landing.offS.toFixed(2)} s${doubtful ? ", doubtful" : ""}${source === "hand" ? ", by hand" : ""}`}
      onClick={onChoose}
    >
      <span />
    </button>
  );
}

function ticksWithin(fromS: number, toS: number): { time: number; text: string }[] {
  const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 30].find((size) => (toS - fromS) / size <= mostTicks) ?? 60;
  const first = Math.ceil(fromS / step);
  const count = Math.max(0, Math.floor(toS / step) - first + 1);
  return Array.from({ length: count }, (_, k) => {
    const time = (first + k) * step;
    return { time, text: `${time.toFixed(step < 1 ? 1 : 0)} s` };
  });
}
