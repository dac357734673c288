import { type KeyboardEvent, useCallback, useMemo, useState } from "react";
import { fitGround } from "../../ground/fit.ts";
import type { GroundFit, ImagePoint, PoleMarks } from "../../ground/types.ts";
import type { ClipFacts } from "../../video/types.ts";
import { layoutOf } from "../adding.ts";
import { useBench } from "../bench.ts";
import type { Grip } from "../picture/Stage.tsx";
import { undoKey } from "../shell/UndoRedo.tsx";
import { findOthers, findRest } from "./find-others.ts";
import {
  openSlot,
  pointAt,
  type Row,
  rowOf,
  type Slot,
  slotAfter,
  slotNear,
  UPRIGHT,
  wholePoles,
  withoutPoint,
  withoutPole,
  withPoint,
  withRow,
} from "./marking.ts";
import { aligned, useSnap } from "./useSnap.ts";

/** Steps of the keyboard's own cursor, image pixels. */
const cursorStep = 8;
/**
 * A tap snaps no farther than this share of the picture's long side: a finger on a whole picture covers half a gap,
 * and from that far away another pole, a cone or a shadow may win. A choice of ours.
 */
const snapShare = 0.01;
/** How far a tap by keyboard may snap, image pixels. */
const cursorReach = 24;

const arrows: Record<string, [number, number]> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

interface MarkingAsked {
  facts: ClipFacts;
  /** The picture on show; null while it is on its way. */
  bitmap: ImageBitmap | null;
  /** Time of the frame on show. */
  timeS: number;
  /** The marks belong to the frame on show, or there are none yet. */
  onMarkedFrame: boolean;
}

export type Marking = ReturnType<typeof useMarking>;

/** Marking the poles of the clip on the bench: what is asked for, chosen and held, and all that can be done. */
export function useMarking({ facts, bitmap, timeS, onMarkedFrame }: MarkingAsked) {
  const [state, bench] = useBench();
  const { session } = state;
  const marks = state.marks.now;
  const [slot, setSlot] = useState<Slot>(() => openSlot(marks));
  const [chosen, setChosen] = useState<Slot | null>(null);
  const [held, setHeld] = useState<{ slot: Slot; at: ImagePoint } | null>(null);
  const [cursor, setCursor] = useState<ImagePoint | null>(null);
  /** Where the far end of the pole just tapped seems to be. */
  const [suggested, setSuggested] = useState<ImagePoint | null>(null);
  const [seeking, setSeeking] = useState(false);
  const [seekResult, setSeekResult] = useState<{ found: boolean; sentence: string } | null>(null);
  const [snapping, setSnapping] = useState(true);
  const [spacing, setSpacing] = useState<Pick<Row, "even" | "spacingM">>(() =>
    rowOf(marks, session.layout?.gapsM ?? null),
  );
  const snap = useSnap(bitmap, facts.widthPx);

  const row: Row = {
    ...spacing,
    gapsM: marks.gapsM.length > 0 ? marks.gapsM : (session.layout?.gapsM ?? []),
  };
  const fit = useMemo<GroundFit | null>(
    () =>
      marks.gapsM.length > 0 ? fitGround(marks, { widthPx: facts.widthPx, heightPx: facts.heightPx }) : null,
    [marks, facts.widthPx, facts.heightPx],
  );

  const edit = useCallback(
    (next: PoleMarks, key: string | null = null) => {
      bench.editMarks(next, key);
      setSeekResult(null);
      const layout = layoutOf(next, session.layout);
      if (layout) bench.changeSession({ layout });
    },
    [bench, session.layout],
  );

  const put = (at: Slot, point: ImagePoint, key: string | null = null) => {
    const next = withPoint({ ...marks, ...(marks.poles.length === 0 ? { timeS } : {}) }, at, point, row);
    const withersM = state.dog?.measures.withersM;
    const measured = !marks.upright && next.upright && withersM;
    edit(measured ? { ...next, upright: { ...next.upright!, heightM: withersM } } : next, key);
    setChosen(at);
  };

  const farthestSnap = snapShare * Math.max(facts.widthPx, facts.heightPx);

  /** Marks the end that was asked for, and asks for the next one. */
  const tap = (at: Slot, point: ImagePoint, reach: number) => {
    const snapped =
      snapping && at.pole !== UPRIGHT
        ? snap(point, Math.min(reach, farthestSnap))
        : { point, otherEnd: null };
    const other = marks.poles[at.pole]?.[at.end === "far" ? "near" : "far"];
    if (snapping && other) {
      const ends = { near: other, far: other, [at.end]: snapped.point };
      const line = aligned(bitmap, facts.widthPx, ends, 0.7 * farthestSnap);
      edit(
        withPoint(
          withPoint(marks, { ...at, end: "near" }, line.near, row),
          { ...at, end: "far" },
          line.far,
          row,
        ),
      );
      setChosen(at);
    } else put(at, snapped.point);
    const next = slotAfter(marks, at);
    setSlot(next);
    setSuggested(next.pole === at.pole ? snapped.otherEnd : null);
  };

  const changeRow = (next: Row) => {
    setSpacing({ even: next.even, spacingM: next.spacingM });
    const withGaps = withRow(marks, next);
    if (marks.poles.length > 1) edit(withGaps, "row");
    // Before there are poles the typed spacing is kept as a row of one gap.
    else if (next.spacingM)
      bench.changeSession({ layout: layoutOf({ ...marks, gapsM: [next.spacingM] }, null) });
  };

  const seekOthers = async () => {
    const whole = wholePoles(marks);
    const first = whole?.[0];
    if (!bitmap || !first) return;
    setSeeking(true);
    setSeekResult(null);
    // Lets the button say so before the search keeps the page busy.
    await new Promise((done) => setTimeout(done, 30));
    const found =
      whole.length > 1 ? findRest(bitmap, facts, whole) : findOthers(bitmap, facts.widthPx, first);
    setSeeking(false);
    if (!found) {
      setSeekResult({
        found: false,
        sentence:
          whole.length > 1
            ? "No further pole was found in this row. Tap it if there is one."
            : "The other poles can't be told from the ground yet. Tap the next pole too, and look again.",
      });
      return;
    }
    edit(withRow({ ...marks, poles: found }, row));
    setChosen(null);
    setSuggested(null);
    setSlot({ pole: found.length, end: "near" });
    setSeekResult({
      found: true,
      sentence: `${found.length} poles in all. Look closer and drag any end that is off; if one is missing or wrong, undo and tap them.`,
    });
  };

  const press = (at: ImagePoint, reach: number): Grip | null => {
    if (!onMarkedFrame || !bitmap) return null;
    const grabbed = slotNear(marks, at, reach);
    const target = grabbed ?? slot;
    const start = grabbed ? (pointAt(marks, grabbed) ?? at) : at;
    // A mark that is dragged keeps its distance to the finger, so that it does not jump when it is taken hold of.
    const away = { x: start.x - at.x, y: start.y - at.y };
    const place = (to: ImagePoint) =>
      inside({ x: to.x + away.x, y: to.y + away.y }, facts.widthPx, facts.heightPx);
    let moved = !grabbed;
    setHeld({ slot: target, at: grabbed ? start : place(at) });
    setCursor(null);
    if (grabbed) setChosen(grabbed);
    return {
      move: (to) => {
        moved ||= Math.hypot(to.x - at.x, to.y - at.y) > reach / 3;
        if (moved) setHeld({ slot: target, at: place(to) });
      },
      release: (to) => {
        setHeld(null);
        if (!moved) return;
        // A mark that is corrected by hand is meant where it is put: it snaps over a short way only.
        if (grabbed)
          put(target, snapping && target.pole !== UPRIGHT ? snap(place(to), reach / 2).point : place(to));
        else tap(target, place(to), 2 * reach);
      },
      cancel: () => setHeld(null),
    };
  };

  const nudge = (dx: number, dy: number) => {
    const point = chosen && pointAt(marks, chosen);
    if (!point || !onMarkedFrame) return;
    put(
      chosen,
      inside({ x: point.x + dx, y: point.y + dy }, facts.widthPx, facts.heightPx),
      `nudge ${chosen.pole} ${chosen.end}`,
    );
  };

  const removeChosen = () => {
    if (!chosen) return;
    edit(withoutPoint(marks, chosen, row));
    setSlot(chosen);
    setChosen(null);
  };

  /** After a step back or forth the fields and the next tap follow the marks. */
  const stepThrough = (go: () => void) => {
    go();
    const now = bench.get().marks.now;
    setChosen(null);
    setSuggested(null);
    setSlot(openSlot(now));
    setSpacing(rowOf(now, session.layout?.gapsM ?? null));
  };
  const undo = () => stepThrough(() => bench.undoMarks());
  const redo = () => stepThrough(() => bench.redoMarks());

  const onKeyDown = (event: KeyboardEvent) => {
    const arrow = arrows[event.key];
    const history = undoKey(event);
    if (arrow) {
      const far = event.shiftKey ? 10 : 1;
      if (chosen && !cursor) nudge(arrow[0] * far, arrow[1] * far);
      else {
        const from = cursor ?? { x: facts.widthPx / 2, y: facts.heightPx / 2 };
        setCursor(
          inside(
            { x: from.x + arrow[0] * far * cursorStep, y: from.y + arrow[1] * far * cursorStep },
            facts.widthPx,
            facts.heightPx,
          ),
        );
      }
    } else if (event.key === "Enter" && cursor && onMarkedFrame) {
      tap(slot, cursor, cursorReach);
      setCursor(null);
    } else if (event.key === "Enter" || event.key === "Escape") {
      setCursor(
        event.key === "Enter"
          ? ((chosen && pointAt(marks, chosen)) ?? { x: facts.widthPx / 2, y: facts.heightPx / 2 })
          : null,
      );
      setChosen(null);
    } else if (event.key === "Delete" || event.key === "Backspace") removeChosen();
    else if (history) (history === "undo" ? undo : redo)();
    else return;
    event.preventDefault();
  };

  return {
    marks,
    row,
    fit,
    slot,
    setSlot,
    chosen,
    setChosen: (at: Slot | null) => {
      setChosen(at);
      setCursor(null);
    },
    held,
    cursor,
    suggested,
    takeSuggested: () => {
      if (!suggested) return;
      put(slot, suggested);
      setSlot(slotAfter(marks, slot));
      setSuggested(null);
    },
    skip: () => {
      setSuggested(null);
      setSlot(slot.end === "near" ? { pole: slot.pole, end: "far" } : { pole: slot.pole + 1, end: "near" });
    },
    snapping,
    setSnapping,
    seeking,
    seekResult,
    seekOthers,
    edit,
    changeRow,
    press,
    nudge,
    removeChosen,
    removePole: (pole: number) => {
      edit(withoutPole(marks, pole, row));
      setChosen(null);
      setSlot(openSlot(bench.get().marks.now));
    },
    undo,
    redo,
    onKeyDown,
  };
}

function inside(point: ImagePoint, width: number, height: number): ImagePoint {
  return { x: Math.min(Math.max(point.x, 0), width), y: Math.min(Math.max(point.y, 0), height) };
}
