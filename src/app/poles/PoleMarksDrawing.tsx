import type { ImagePoint, PoleMarks, PoleTap } from "../../ground/types.ts";
import { toScreen, type View } from "../picture/view.ts";
import { type Slot, sameSlot, UPRIGHT } from "./marking.ts";

interface PoleMarksDrawingProps {
  marks: PoleMarks;
  view: View;
  suspects: readonly number[];
  chosen: Slot | null;
  held: { slot: Slot; at: ImagePoint } | null;
  /** Drawn faintly: the marks belong to another frame. */
  faint: boolean;
  /** The keyboard's cross. */
  cursor: ImagePoint | null;
  /** Where the next end seems to be. */
  suggested: ImagePoint | null;
}

/** The marked poles over the picture: near end a full ring with the pole's number, far end an open ring. */
export function PoleMarksDrawing({
  marks,
  view,
  suspects,
  chosen,
  held,
  faint,
  cursor,
  suggested,
}: PoleMarksDrawingProps) {
  const poles = marks.poles.map((pole, k) => ({
    near: held?.slot.pole === k && held.slot.end === "near" ? held.at : pole.near,
    far: held?.slot.pole === k && held.slot.end === "far" ? held.at : pole.far,
  }));
  if (held && held.slot.pole >= poles.length && held.slot.pole !== UPRIGHT) {
    poles[held.slot.pole] = {
      near: held.slot.end === "near" ? held.at : undefined,
      far: held.slot.end === "far" ? held.at : undefined,
    };
  }
  return (
    <g className="pole-marks" opacity={faint ? 0.35 : 1}>
      {numbered(poles).map(({ pole, number }) => {
        const k = number - 1;
        const near = pole.near && toScreen(view, pole.near);
        const far = pole.far && toScreen(view, pole.far);
        const suspect = suspects.includes(k);
        return (
          <g key={number} className={suspect ? "pole-suspect" : ""}>
            {near && far && (
              <>
                <path className="pole-halo" d={`M${near.x} ${near.y}L${far.x} ${far.y}`} />
                <path className="pole-line" d={`M${near.x} ${near.y}L${far.x} ${far.y}`} />
              </>
            )}
            {far && <End at={far} open chosen={sameSlot(chosen, { pole: k, end: "far" })} />}
            {near && <End at={near} chosen={sameSlot(chosen, { pole: k, end: "near" })} />}
            <Label at={near ?? far} number={number} suspect={suspect} below={Boolean(near)} />
          </g>
        );
      })}
      {marks.upright && (
        <Upright
          foot={toScreen(view, (held && sameSlot(held.slot, footSlot) && held.at) || marks.upright.foot)}
          top={toScreen(view, (held && sameSlot(held.slot, topSlot) && held.at) || marks.upright.top)}
          chosen={chosen}
        />
      )}
      {suggested && <Suggestion at={toScreen(view, suggested)} />}
      {cursor && <Cross at={toScreen(view, cursor)} />}
    </g>
  );
}

/** With the number it has in the row; places not tapped yet are left out. */
function numbered(poles: readonly (PoleTap | undefined)[]): { pole: PoleTap; number: number }[] {
  return poles.flatMap((pole, k) => (pole ? [{ pole, number: k + 1 }] : []));
}

const footSlot: Slot = { pole: UPRIGHT, end: "near" };
const topSlot: Slot = { pole: UPRIGHT, end: "far" };

function Upright({ foot, top, chosen }: { foot: ImagePoint; top: ImagePoint; chosen: Slot | null }) {
  const line = `M${foot.x} ${foot.y}L${top.x} ${top.y}`;
  return (
    <g>
      <path className="pole-halo" d={line} />
      <path className="pole-line" d={line} strokeDasharray="6 5" />
      <End at={top} open chosen={sameSlot(chosen, topSlot)} />
      <End at={foot} chosen={sameSlot(chosen, footSlot)} />
      <text className="pole-number" x={top.x} y={top.y - 12} textAnchor="middle">
        withers
      </text>
    </g>
  );
}

function End({ at, open, chosen }: { at: ImagePoint; open?: boolean; chosen: boolean }) {
  return (
    <g>
      {chosen && <circle className="pole-chosen" cx={at.x} cy={at.y} r={13} />}
      <circle className="pole-halo" cx={at.x} cy={at.y} r={5.5} />
      <circle className={open ? "pole-end pole-end-open" : "pole-end"} cx={at.x} cy={at.y} r={5.5} />
      <circle className="pole-point" cx={at.x} cy={at.y} r={1.3} />
    </g>
  );
}

function Label({
  at,
  number,
  suspect,
  below,
}: {
  at: ImagePoint | undefined;
  number: number;
  suspect: boolean;
  below: boolean;
}) {
  if (!at) return null;
  const text = suspect ? `${number} ?` : `${number}`;
  return (
    <text className="pole-number" x={at.x} y={at.y + (below ? 22 : -12)} textAnchor="middle">
      {text}
    </text>
  );
}

function Suggestion({ at }: { at: ImagePoint }) {
  return (
    <g>
      <circle className="pole-halo" cx={at.x} cy={at.y} r={9} />
      <circle className="pole-line" cx={at.x} cy={at.y} r={9} strokeDasharray="2 4" />
    </g>
  );
}

function Cross({ at }: { at: ImagePoint }) {
  const arms = `M${at.x - 22} ${at.y}h16M${at.x + 6} ${at.y}h16M${at.x} ${at.y - 22}v16M${at.x} ${at.y + 6}v16`;
  return (
    <g>
      <path className="pole-halo" d={arms} />
      <path className="pole-line" d={arms} />
    </g>
  );
}
