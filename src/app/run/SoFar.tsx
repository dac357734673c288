import type { Pass } from "../../gait/types.ts";

/** Ground shown before the first and after the last pole, metres. */
const BEYOND_M = 0.6;
const HIGH = 14;

/** The hind landings at the row of the latest pass, as they are being found, seen from above. */
export function SoFar({ passes, gapsM }: { passes: readonly Pass[]; gapsM: readonly number[] }) {
  const latest = passes.at(-1);
  const hind = latest?.landings.filter((landing) => landing.paw[1] === "H") ?? [];
  let runningM = 0;
  const polesM = [0, ...gapsM.map((gapM) => (runningM += gapM))];
  const lengthM = runningM + 2 * BEYOND_M;
  const x = (xM: number) => (100 * (xM + BEYOND_M)) / lengthM;
  const within = hind.filter((l) => l.xM > -BEYOND_M && l.xM < runningM + BEYOND_M);
  if (within.length === 0) return null;
  return (
    <section className="stack" aria-label="Landings so far">
      <p>
        <strong>
          {within.length} hind landing{within.length > 1 ? "s" : ""} so far
        </strong>
        {passes.length > 1 && ` in pass ${passes.length}`}{" "}
        <span className="soft">– provisional: they may still move.</span>
      </p>
      <svg className="run-row" viewBox={`0 0 100 ${HIGH}`} aria-hidden="true">
        {polesM.map((xM) => (
          <line key={xM} x1={x(xM)} x2={x(xM)} y1={1} y2={HIGH - 1} />
        ))}
        {within.map((l) => (
          <circle key={l.id} cx={x(l.xM)} cy={l.paw[0] === "L" ? HIGH * 0.36 : HIGH * 0.64} r={1.3} />
        ))}
      </svg>
    </section>
  );
}
