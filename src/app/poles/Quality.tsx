import { qualityOf } from "../../ground/quality.ts";
import type { GroundMap } from "../../ground/types.ts";
import type { Units } from "../../store/types.ts";
import type { ClipFacts } from "../../video/types.ts";
import { length } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";

/** How well this clip can be measured, before any number is trusted. */
export function Quality({ map, facts, units }: { map: GroundMap; facts: ClipFacts; units: Units }) {
  const quality = qualityOf(map, facts, { fps: facts.meanFps, cameraMoves: false });
  const within = 1.96 * quality.landingSeM;
  return (
    <details className="fold">
      <summary>
        <Icon name="ruler" />
        <span>
          {Number.isFinite(within)
            ? `One landing can be placed to ± ${length(within, units, 1)} here`
            : "Landings can hardly be placed here"}
        </span>
      </summary>
      <div className="stack-tight">
        <p className="small">
          One pixel is {length(quality.cmPerPixel[0] / 100, units, 2)} to{" "}
          {length(quality.cmPerPixel[1] / 100, units, 2)} of the row
          {quality.cameraDistanceM !== null && `; camera ${quality.cameraDistanceM.toFixed(1)} m away`}
          {quality.offSquareDeg !== null && `, ${Math.round(quality.offSquareDeg)}° off square`}.
        </p>
        {quality.advice.map((advice) => (
          <p key={advice} className="small">
            {advice}
          </p>
        ))}
      </div>
    </details>
  );
}
