import { useState } from "react";
import type { ClipFacts } from "../../video/types.ts";
import { Stage } from "../picture/Stage.tsx";
import { ZoomButtons } from "../picture/ZoomButtons.tsx";
import { Icon } from "../shell/Icon.tsx";
import { GroundGrid } from "./GroundGrid.tsx";
import { allPoints, aroundRow, slotTold } from "./marking.ts";
import { PoleMarksDrawing } from "./PoleMarksDrawing.tsx";
import { suspectsOf } from "./Problems.tsx";
import type { Marking } from "./useMarking.ts";

interface PoleStageProps {
  marking: Marking;
  bitmap: ImageBitmap | null;
  facts: ClipFacts;
  onMarkedFrame: boolean;
  /** Enough is marked to go on. */
  ready: boolean;
}

/** The frame with the marked poles, and over it what is to be tapped next. */
export function PoleStage({ marking, bitmap, facts, onMarkedFrame, ready }: PoleStageProps) {
  const { marks, fit, slot, held, cursor, chosen, suggested, snapping, setSnapping } = marking;
  const [showGrid, setShowGrid] = useState(true);
  return (
    <Stage
      bitmap={bitmap}
      picture={{ width: facts.widthPx, height: facts.heightPx }}
      label="The marked frame. Tap pole ends; with the keyboard press Enter, move with the arrow keys, and press Enter again."
      press={marking.press}
      loupeAt={held?.at ?? null}
      onKeyDown={marking.onKeyDown}
      follow={cursor}
      first={marks.poles.length > 1 ? aroundRow(allPoints(marks)) : null}
      overlay={(view) => (
        <>
          {showGrid && fit?.map && <GroundGrid map={fit.map} view={view} heightM={marks.poleHeightM ?? 0} />}
          <PoleMarksDrawing
            marks={marks}
            view={view}
            suspects={suspectsOf(fit)}
            chosen={chosen}
            held={held}
            faint={!onMarkedFrame}
            cursor={cursor}
            suggested={onMarkedFrame && slot.end === "far" ? suggested : null}
          />
        </>
      )}
    >
      {(control) => (
        <>
          <p className="poles-ask" role="status" aria-live="polite">
            {onMarkedFrame ? (
              <>
                Tap <strong>{slotTold(slot)}</strong>
                {ready && slot.end === "near" && ", or go on"}
              </>
            ) : (
              "The poles are marked on another frame"
            )}
          </p>
          <div className="stage-tools">
            <ZoomButtons control={control} />
            <button
              type="button"
              aria-label="Snap to the pole's end"
              aria-pressed={snapping}
              onClick={() => setSnapping(!snapping)}
            >
              <Icon name="snap" />
            </button>
            <button
              type="button"
              aria-label="Show the grid on the ground"
              aria-pressed={showGrid}
              onClick={() => setShowGrid(!showGrid)}
            >
              <Icon name="grid" />
            </button>
          </div>
        </>
      )}
    </Stage>
  );
}
