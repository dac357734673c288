import { isDoubtful } from "../../charts/marks.ts";
import type { Landing } from "../../gait/types.ts";
import type { GroundMap, GroundPoint, ImagePoint } from "../../ground/types.ts";
import { toScreen, type View } from "../picture/view.ts";
import { PawShape } from "../shell/PawShape.tsx";
import type { FrameView } from "./registration.ts";

interface RowDrawingProps {
  map: GroundMap;
  frame: FrameView;
  view: View;
  timeS: number;
  poleHeightM: number;
  /** Of the pass on show. */
  landings: readonly Landing[];
  chosenId: string | null;
  /** A landing that is being dragged or put down, where the finger has it. */
  held: { paw: Landing["paw"]; at: ImagePoint } | null;
}

/** The row and the landings on the ground of the picture. A paw that stands now is large, the others small. */
export function RowDrawing({
  map,
  frame,
  view,
  timeS,
  poleHeightM,
  landings,
  chosenId,
  held,
}: RowDrawingProps) {
  const on = (place: GroundPoint, heightM = 0) => toScreen(view, frame.toFrame(place, heightM));
  return (
    <>
      <g className="ground-grid">
        {map.poleXM.map((xM, pole) => {
          const near = on({ xM, yM: 0 }, poleHeightM);
          const far = on({ xM, yM: map.poleLengthM }, poleHeightM);
          return finite(near) && finite(far) ? (
            <g key={xM}>
              <path className="ground-grid-pole" d={`M${near.x} ${near.y}L${far.x} ${far.y}`} />
              <text className="pole-number" x={near.x} y={near.y + 18} textAnchor="middle">
                {pole + 1}
              </text>
            </g>
          ) : null;
        })}
      </g>
      {[...landings]
        .sort((a, b) => Number(standing(a, timeS)) - Number(standing(b, timeS)))
        .map((landing) => {
          const at = on(landing);
          if (!finite(at)) return null;
          const now = standing(landing, timeS);
          return (
            <g
              key={landing.id}
              data-chosen={landing.id === chosenId || undefined}
              opacity={now || landing.id === chosenId ? 1 : 0.72}
            >
              <PawShape
                paw={landing.paw}
                x={at.x}
                y={at.y}
                radius={now ? 10 : 6.5}
                doubtful={isDoubtful(landing)}
                byHand={landing.source === "hand"}
                chosen={landing.id === chosenId}
                onPicture
              />
            </g>
          );
        })}
      {held && <PawShape paw={held.paw} {...toScreen(view, held.at)} radius={11} chosen onPicture />}
    </>
  );
}

function standing(landing: Landing, timeS: number): boolean {
  return timeS >= landing.onS - 1e-4 && timeS <= landing.offS + 1e-4;
}

function finite(point: ImagePoint): boolean {
  return Number.isFinite(point.x) && Number.isFinite(point.y);
}
