import { useMemo } from "react";
import { isDoubtful } from "../../charts/marks.ts";
import type { Pass } from "../../gait/types.ts";
import { placeLandings } from "../../spacing/place.ts";
import type { Layout } from "../../spacing/types.ts";
import { PawSign, pawName } from "../shell/PawShape.tsx";

interface GapStripProps {
  passes: readonly Pass[];
  layout: Layout;
  /** Its landings are drawn strongly, the others' faintly. */
  passId: string | null;
  chosenId: string | null;
  onChoose(landingId: string): void;
}

/** All gaps laid over one another, the dog going to the right; fore landings above, hind landings below. */
export function GapStrip({ passes, layout, passId, chosenId, onChoose }: GapStripProps) {
  const placed = useMemo(
    () =>
      passes.flatMap((pass) =>
        placeLandings(pass, layout).flatMap((landing) =>
          landing.gapFraction === null
            ? []
            : [{ landing, ahead: pass.direction === 1 ? landing.gapFraction : 1 - landing.gapFraction }],
        ),
      ),
    [passes, layout],
  );
  const [target] = layout.targetFractions;
  const oneTarget = layout.targetFractions.every((fraction) => fraction === target);
  return (
    <section aria-label="All gaps laid over one another">
      <div className="gap-strip">
        {oneTarget && target !== undefined && (
          <div className="gap-strip-target" style={{ left: `${100 * target}%` }} />
        )}
        {placed.map(({ landing, ahead }) => {
          const faint = passId !== null && landing.passId !== passId;
          return (
            <button
              key={landing.id}
              type="button"
              className="gap-strip-landing"
              data-faint={faint}
              tabIndex={faint ? -1 : 0}
              style={{ left: `${100 * ahead}%`, top: laneOf[landing.paw] }}
              aria-pressed={landing.id === chosenId}
              aria-label={`${pawName[landing.paw]}, gap ${(landing.gap ?? 0) + 1}, at ${Math.round(100 * ahead)} % of the gap`}
              onClick={() => onChoose(landing.id)}
            >
              <PawSign
                paw={landing.paw}
                size={16}
                doubtful={isDoubtful(landing)}
                byHand={landing.source === "hand"}
              />
            </button>
          );
        })}
      </div>
      <p className="gap-strip-words soft tiny" aria-hidden="true">
        <span>pole behind</span>
        <span>all gaps on one another →</span>
        <span>next pole</span>
      </p>
    </section>
  );
}

const laneOf = { LF: "14%", RF: "36%", LH: "62%", RH: "84%" } as const;
