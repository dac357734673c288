import { type GroundQuality, qualityOf } from "../../ground/quality.ts";
import type { GroundMap } from "../../ground/types.ts";
import type { Units } from "../../store/types.ts";
import type { ClipFacts } from "../../video/types.ts";
import { length, lengthNumber, unitName } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";

interface QualityProps {
  map: GroundMap;
  facts: ClipFacts;
  /** Known once the clip has been looked through. */
  cameraMoves: boolean;
  units: Units;
}

const words: Record<GroundQuality["trust"], { title: string; means: string }> = {
  good: { title: "Measures well", means: "Two or three steady passes can settle the spacing." },
  fair: { title: "Measures fairly", means: "Good for the pattern; a close call needs more passes." },
  rough: {
    title: "Measures roughly",
    means: "Shows how the dog goes; too rough to say that a spacing fits.",
  },
};

/** How well this clip can be measured, before any number is trusted. */
export function Quality({ map, facts, cameraMoves, units }: QualityProps) {
  const quality = qualityOf(map, facts, { fps: facts.meanFps, cameraMoves });
  const withinM = 1.96 * quality.landingSeM;
  const gapM = (map.poleXM.at(-1) ?? 0) / Math.max(1, map.poleXM.length - 1);
  const { title, means } = words[quality.trust];
  return (
    <section className="quality" data-trust={quality.trust} aria-label="How well this clip can be measured">
      <h2>
        <Icon name={quality.trust === "rough" ? "warn" : "ruler"} /> {title}
      </h2>
      <p className="soft small">{means}</p>
      <Doubt gapM={gapM} withinM={withinM} units={units} />
      <dl className="quality-figures">
        <Figure
          name="one landing"
          value={Number.isFinite(withinM) ? `± ${length(withinM, units, 1)}` : "not known"}
        />
        <Figure name="all lengths" value={`± ${(196 * quality.scaleSe).toFixed(1)} %`} />
        <Figure
          name="off square"
          value={quality.offSquareDeg === null ? "not known" : `${Math.round(quality.offSquareDeg)}°`}
        />
        <Figure name="one pixel" value={pixelTold(quality.cmPerPixel, units)} />
        {quality.cameraDistanceM !== null && quality.cameraHeightM !== null && (
          <Figure
            name="camera"
            value={`${quality.cameraDistanceM.toFixed(1)} m off, ${quality.cameraHeightM.toFixed(1)} m up`}
          />
        )}
      </dl>
      {quality.advice.length > 0 && (
        <div className="stack-tight">
          <h3>Better next time</h3>
          <ul className="quality-advice">
            {quality.advice.map((advice) => (
              <li key={advice} className="small">
                {advice}
              </li>
            ))}
          </ul>
        </div>
      )}
    </section>
  );
}

function Figure({ name, value }: { name: string; value: string }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>{value}</dd>
    </div>
  );
}

/** One gap to scale with the interval of a landing in its middle: how much of the gap the doubt takes. */
function Doubt({ gapM, withinM, units }: { gapM: number; withinM: number; units: Units }) {
  if (!(gapM > 0 && Number.isFinite(withinM))) return null;
  const [left, right, y] = [14, 306, 24];
  const half = Math.min(0.5, withinM / gapM) * (right - left);
  const middle = (left + right) / 2;
  return (
    <svg
      className="quality-doubt"
      viewBox="0 0 320 48"
      role="img"
      aria-label={`A gap of ${length(gapM, units)}, and within it where a landing seen in its middle may truly lie: ${length(withinM, units, 1)} to either side.`}
    >
      <path className="quality-ground" d={`M${left} ${y}H${right}`} />
      <rect
        className="quality-band"
        x={middle - half}
        y={y - 9}
        width={2 * half}
        height={18}
        rx={Math.min(9, half)}
      />
      <circle className="quality-foot" cx={middle} cy={y} r={3.2} />
      {[left, right].map((x) => (
        <rect key={x} className="quality-pole" x={x - 4} y={y - 14} width={8} height={28} rx={4} />
      ))}
    </svg>
  );
}

function pixelTold([least, most]: [number, number], units: Units): string {
  const [from, to] = [least, most].map((cm) => lengthNumber(cm / 100, units, 2));
  return from === to ? `${from} ${unitName[units]}` : `${from} to ${to} ${unitName[units]}`;
}
