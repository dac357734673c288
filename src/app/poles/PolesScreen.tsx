import { type KeyboardEvent, useCallback, useMemo, useState } from "react";
import { useLocation } from "wouter";
import { fitGround } from "../../ground/fit.ts";
import { suggestPoles } from "../../ground/suggest.ts";
import type { GroundFit, ImagePoint, PoleMarks } from "../../ground/types.ts";
import { layoutOf } from "../adding.ts";
import { useBench } from "../bench.ts";
import { type Film, frameAt, useFilm } from "../film.ts";
import { byHand, marksChanged } from "../judging.ts";
import { type Grip, Stage } from "../picture/Stage.tsx";
import { usePicture } from "../picture/usePicture.ts";
import { PathOf, SaveProblem, subtitleOf } from "../shell/clip-frame.tsx";
import { FilmMissing } from "../shell/FilmMissing.tsx";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Scrubber } from "../shell/Scrubber.tsx";
import { GroundGrid } from "./GroundGrid.tsx";
import {
  allPoints,
  aroundRow,
  openSlot,
  pointAt,
  type Row,
  rowOf,
  type Slot,
  slotAfter,
  slotNear,
  withoutPoint,
  withoutPole,
  withPoint,
  withRow,
} from "./marking.ts";
import { Nudger } from "./Nudger.tsx";
import { PoleList } from "./PoleList.tsx";
import { PoleMarksDrawing } from "./PoleMarksDrawing.tsx";
import "./poles.css";
import { Quality } from "./Quality.tsx";
import { RowFields } from "./RowFields.tsx";
import { readPicture, useSnap } from "./useSnap.ts";

/** Wide enough for every pixel of a phone clip; larger pictures gain a tap nothing and cost memory. */
const pictureWidthPx = 2560;
/** Steps of the keyboard's own cursor, image pixels. */
const cursorStep = 8;
/**
 * A tap snaps no farther than this share of the picture's long side: a finger on a whole picture covers half a gap,
 * and from that far away another pole, a cone or a shadow may win. A choice of ours.
 */
const snapShare = 0.015;
/** How far a tap by keyboard may snap, image pixels. */
const cursorReach = 24;
/** Width at which poles are looked for. */
const searchWidthPx = 1280;

export default function PolesScreen() {
  const [state] = useBench();
  const { film } = useFilm();
  if (film.state === "open") return <Marking film={film.film} />;
  return (
    <Screen
      title="Poles"
      back={`/clip/${state.clip.id}/film`}
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="poles" />}
    >
      <FilmMissing />
    </Screen>
  );
}

function Marking({ film }: { film: Film }) {
  const [state, bench] = useBench();
  const [, go] = useLocation();
  const { facts } = film.reader;
  const { clip, session, settings } = state;
  const marks = state.marks.now;

  const [frame, setFrame] = useState(() =>
    frameAt(film.times, marks.poles.length > 0 ? marks.timeS : (clip.range?.[0] ?? 0)),
  );
  const timeS = film.times[frame] ?? 0;
  const { shown, problem } = usePicture(film.reader, timeS, Math.min(pictureWidthPx, facts.widthPx));
  const onMarkedFrame = marks.poles.length === 0 || frameAt(film.times, marks.timeS) === frame;

  const [slot, setSlot] = useState<Slot>(() => openSlot(marks));
  const [chosen, setChosen] = useState<Slot | null>(null);
  const [held, setHeld] = useState<{ slot: Slot; at: ImagePoint } | null>(null);
  const [cursor, setCursor] = useState<ImagePoint | null>(null);
  /** Where the far end of the pole just tapped seems to be. */
  const [suggested, setSuggested] = useState<ImagePoint | null>(null);
  const [seeking, setSeeking] = useState(false);
  const [seekResult, setSeekResult] = useState<{ found: boolean; sentence: string } | null>(null);
  const [snapping, setSnapping] = useState(true);
  const [showGrid, setShowGrid] = useState(true);
  const [spacing, setSpacing] = useState<Pick<Row, "even" | "spacingM">>(() =>
    rowOf(marks, session.layout?.gapsM ?? null),
  );
  const snap = useSnap(shown?.bitmap ?? null, facts.widthPx);

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
    edit(withPoint({ ...marks, ...(marks.poles.length === 0 ? { timeS } : {}) }, at, point, row), key);
    setChosen(at);
  };

  const farthestSnap = snapShare * Math.max(facts.widthPx, facts.heightPx);

  /** Marks the end that was asked for, and asks for the next one. */
  const tap = (at: Slot, point: ImagePoint, reach: number) => {
    const snapped = snapping ? snap(point, Math.min(reach, farthestSnap)) : { point, otherEnd: null };
    put(at, snapped.point);
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

  const findPoles = async () => {
    if (!shown) return;
    setSeeking(true);
    setSeekResult(null);
    // Lets the button say so before the search keeps the page busy.
    await new Promise((done) => setTimeout(done, 30));
    const width = Math.min(searchWidthPx, shown.bitmap.width);
    const { poles, confidence } = suggestPoles(readPicture(shown.bitmap, width));
    setSeeking(false);
    if (confidence < 0.5) {
      setSeekResult({
        found: false,
        sentence: "The poles can't be told from the ground here. Tap their ends, or choose another frame.",
      });
      return;
    }
    const scale = facts.widthPx / width;
    const full = (p: ImagePoint | undefined) => p && { x: p.x * scale, y: p.y * scale };
    const found = poles.map((pole) => ({ near: full(pole.near), far: full(pole.far) }));
    edit(withRow({ ...marks, timeS, poles: found }, row));
    setSlot({ pole: found.length, end: "near" });
    setSeekResult({
      found: true,
      sentence: `${found.length} poles found, counted from the left. Look closer and drag any end that is off; if one is missing or wrong, undo and tap them.`,
    });
  };

  const press = (at: ImagePoint, reach: number): Grip | null => {
    if (!onMarkedFrame || !shown) return null;
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
        if (grabbed) put(target, snapping ? snap(place(to), reach / 2).point : place(to));
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

  const undo = () => {
    bench.undoMarks();
    setChosen(null);
    setSlot(openSlot(bench.get().marks.now));
    setSpacing(rowOf(bench.get().marks.now, session.layout?.gapsM ?? null));
  };
  const redo = () => {
    bench.redoMarks();
    setChosen(null);
    setSlot(openSlot(bench.get().marks.now));
    setSpacing(rowOf(bench.get().marks.now, session.layout?.gapsM ?? null));
  };

  const onKeyDown = (event: KeyboardEvent) => {
    const arrows: Record<string, [number, number]> = {
      ArrowLeft: [-1, 0],
      ArrowRight: [1, 0],
      ArrowUp: [0, -1],
      ArrowDown: [0, 1],
    };
    const arrow = arrows[event.key];
    const command = event.ctrlKey || event.metaKey;
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
    else if (command && event.key.toLowerCase() === "z") (event.shiftKey ? redo : undo)();
    else if (command && event.key.toLowerCase() === "y") redo();
    else return;
    event.preventDefault();
  };

  const ready = fit?.map != null && !fit.problems.some((one) => !one.usable);
  const analysed = clip.analysis !== null && clip.analysis.backend !== byHand && !marksChanged(clip);
  return (
    <Screen
      title="Poles"
      back={`/clip/${clip.id}/film`}
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="poles" />}
      picture={
        <div className="look">
          <div className="look-stage poles-stage">
            <Stage
              bitmap={shown?.bitmap ?? null}
              picture={{ width: facts.widthPx, height: facts.heightPx }}
              label="The marked frame. Tap pole ends; with the keyboard press Enter, move with the arrow keys, and press Enter again."
              press={press}
              loupeAt={held?.at ?? null}
              onKeyDown={onKeyDown}
              follow={cursor}
              first={marks.poles.length > 1 ? aroundRow(allPoints(marks)) : null}
              overlay={(view) => (
                <>
                  {showGrid && fit?.map && (
                    <GroundGrid map={fit.map} view={view} heightM={marks.poleHeightM ?? 0} />
                  )}
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
              {({ zoom, fit: fitPicture, magnification }) => (
                <>
                  <p className="poles-ask" role="status" aria-live="polite">
                    {onMarkedFrame ? (
                      <>
                        Tap <strong>pole {slot.pole + 1}</strong>,{" "}
                        <strong>{slot.end === "near" ? "near end" : "far end"}</strong>
                        {ready && slot.end === "near" && ", or go on"}
                      </>
                    ) : (
                      "The poles are marked on another frame"
                    )}
                  </p>
                  <div className="stage-tools">
                    <button type="button" aria-label="Closer" onClick={() => zoom(1.6)}>
                      <Icon name="zoom-in" />
                    </button>
                    <button
                      type="button"
                      aria-label="Whole picture"
                      disabled={magnification < 1.01}
                      onClick={fitPicture}
                    >
                      <Icon name="fit" />
                    </button>
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
          </div>
          <Scrubber times={film.times} frame={frame} onFrame={setFrame} />
        </div>
      }
      actions={
        <>
          <button
            type="button"
            className="button button-icon"
            aria-label="Undo"
            disabled={state.marks.past.length === 0}
            onClick={undo}
          >
            <Icon name="undo" />
          </button>
          <button
            type="button"
            className="button button-icon"
            aria-label="Redo"
            disabled={state.marks.future.length === 0}
            onClick={redo}
          >
            <Icon name="redo" />
          </button>
          <button
            type="button"
            className="button button-go"
            disabled={!ready}
            onClick={() => go(`/clip/${clip.id}/${analysed ? "landings" : "run"}`)}
          >
            {analysed ? "To the landings" : "Find the landings"}
          </button>
        </>
      }
    >
      <SaveProblem state={state} />
      {problem && <Note weight="stop">{problem}</Note>}
      {!onMarkedFrame && (
        <Note>
          <p>The poles are marked on the frame at {marks.timeS.toFixed(2)} s.</p>
          <div className="line" style={{ marginTop: 8 }}>
            <button
              type="button"
              className="button"
              onClick={() => setFrame(frameAt(film.times, marks.timeS))}
            >
              Back to that frame
            </button>
            <button type="button" className="button" onClick={() => edit({ ...marks, timeS })}>
              Take the marks to this frame
            </button>
          </div>
        </Note>
      )}
      {onMarkedFrame && suggested && slot.end === "far" && (
        <button
          type="button"
          className="button button-go"
          onClick={() => {
            put(slot, suggested);
            setSlot(slotAfter(marks, slot));
            setSuggested(null);
          }}
        >
          <Icon name="check" /> Take the dotted ring as its far end
        </button>
      )}
      {marks.poles.length === 0 && shown && (
        <button type="button" className="button" disabled={seeking} onClick={findPoles}>
          <Icon name="poles" /> {seeking ? "Looking for the poles …" : "Find the poles for me"}
        </button>
      )}
      {seekResult && <Note weight={seekResult.found ? "plain" : "warn"}>{seekResult.sentence}</Note>}
      {onMarkedFrame && !(ready && slot.end === "near") && (
        <button
          type="button"
          className="button button-quiet"
          onClick={() => {
            setSuggested(null);
            setSlot(
              slot.end === "near" ? { pole: slot.pole, end: "far" } : { pole: slot.pole + 1, end: "near" },
            );
          }}
        >
          The {slot.end} end of pole {slot.pole + 1} can't be seen
        </button>
      )}
      {chosen && onMarkedFrame && (
        <Nudger
          label={`Pole ${chosen.pole + 1}, ${chosen.end} end`}
          onNudge={nudge}
          onRemove={removeChosen}
        />
      )}
      {marks.poles.length < 2 && (
        <p className="soft">Tap two poles or more, both ends of each, and type the spacing.</p>
      )}
      <Problems
        fit={fit}
        even={row.even}
        missingSpacing={marks.poles.length > 1 && marks.gapsM.length === 0}
      />
      <RowFields
        row={row}
        poles={marks.poles.length}
        units={settings.units}
        poleLengthM={marks.poleLengthM ?? null}
        poleHeightM={marks.poleHeightM ?? null}
        onRow={changeRow}
        onPole={(change) => edit({ ...marks, ...change }, "pole size")}
        onUnits={(units) => void bench.changeSettings({ units })}
      />
      {fit?.map && ready && <Quality map={fit.map} facts={facts} units={settings.units} />}
      <PoleList
        marks={marks}
        fit={fit}
        units={settings.units}
        chosen={chosen}
        onChoose={(at) => {
          setChosen(at);
          setCursor(null);
        }}
        onRetap={setSlot}
        onRemove={(pole) => {
          edit(withoutPole(marks, pole, row));
          setChosen(null);
          setSlot(openSlot(bench.get().marks.now));
        }}
      />
      <details className="fold">
        <summary>
          <Icon name="info" /> How to mark
        </summary>
        <ol className="stack-tight">
          <li>Choose a frame on which the poles can be seen well.</li>
          <li>
            Tap the poles in the order of the row, from one end to the other: first the near end (nearer to
            the camera, lower in the picture), then the far end. One end is enough where the other can't be
            seen.
          </li>
          <li>Pinch to look closer. A glass shows what is under your finger; drag a mark to correct it.</li>
          <li>
            The grid must lie on the ground along the poles. Where it does not, a tap or a distance is wrong.
          </li>
          <li>
            Keyboard: Enter shows a cross, arrow keys move it (Shift: far), Enter marks. Then arrow keys nudge
            the mark by 1 pixel (Shift: 10), Delete takes it away, Ctrl+Z undoes.
          </li>
        </ol>
      </details>
    </Screen>
  );
}

function Problems({
  fit,
  even,
  missingSpacing,
}: {
  fit: GroundFit | null;
  even: boolean;
  missingSpacing: boolean;
}) {
  if (missingSpacing) {
    return <Note weight="warn">Type the spacing of the poles: it is the one length that must be known.</Note>;
  }
  const gapSizes = fit?.problems.filter((one) => one.kind === "gap-size") ?? [];
  const sentences = (fit?.problems ?? [])
    // Of an even row, one sentence on the spacing is enough.
    .filter((one) => !(even && one.kind === "gap-size" && one !== gapSizes[0]))
    // While the first poles are being tapped, the line on the picture already asks for more.
    .filter(
      (one) => one.kind !== "too-few-poles" || (fit?.residuals.length ?? 0) > 0 || one.poles.length > 1,
    );
  return sentences.map((one) => (
    <Note key={one.sentence} weight={one.usable ? "warn" : "stop"}>
      {one.sentence}
    </Note>
  ));
}

function suspectsOf(fit: GroundFit | null): number[] {
  const pointedAt = fit?.problems.filter((one) => one.kind !== "gap-size").flatMap((one) => one.poles) ?? [];
  return [...(fit?.residuals.filter((one) => one.suspect).map((one) => one.pole) ?? []), ...pointedAt];
}

function inside(point: ImagePoint, width: number, height: number): ImagePoint {
  return { x: Math.min(Math.max(point.x, 0), width), y: Math.min(Math.max(point.y, 0), height) };
}
