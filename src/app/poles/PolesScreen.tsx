import { useEffect, useRef, useState } from "react";
import { useLocation } from "wouter";
import { getReady } from "../../pipeline/analyse.ts";
import { useBench } from "../bench.ts";
import { type Film, frameAt, useFilm } from "../film.ts";
import { byHand, marksChanged } from "../judging.ts";
import { usePicture } from "../picture/usePicture.ts";
import { PathOf, SaveProblem, subtitleOf } from "../shell/clip-frame.tsx";
import { FilmMissing } from "../shell/FilmMissing.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Scrubber } from "../shell/Scrubber.tsx";
import { UndoRedo } from "../shell/UndoRedo.tsx";
import { HeightAsked } from "./HeightAsked.tsx";
import { HowToMark } from "./HowToMark.tsx";
import { NextEnd } from "./NextEnd.tsx";
import { Nudger } from "./Nudger.tsx";
import { PoleList } from "./PoleList.tsx";
import { PoleStage } from "./PoleStage.tsx";
import { Problems } from "./Problems.tsx";
import { Quality } from "./Quality.tsx";
import "./poles.css";
import { type Slot, slotTold, UPRIGHT } from "./marking.ts";
import { RowFields } from "./RowFields.tsx";
import { useMarking } from "./useMarking.ts";
import { WithersFields } from "./WithersFields.tsx";

/** Wide enough for every pixel of a phone clip; larger pictures gain a tap nothing and cost memory. */
const pictureWidthPx = 2560;

/** Where the poles lie in the picture, and how far apart they are: what turns pixels into centimetres. */
export default function PolesScreen() {
  const [state] = useBench();
  const { film } = useFilm();
  if (film.state === "open") return <Poles film={film.film} />;
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

function Poles({ film }: { film: Film }) {
  const [state, bench] = useBench();
  const [, go] = useLocation();
  const { facts } = film.reader;
  const { clip, settings } = state;
  const now = state.marks.now;
  const [frame, setFrame] = useState(() =>
    frameAt(film.times, now.poles.length > 0 ? now.timeS : (clip.range?.[0] ?? 0)),
  );
  const timeS = film.times[frame] ?? 0;
  const { shown, problem } = usePicture(film.reader, timeS, Math.min(pictureWidthPx, facts.widthPx));
  const onMarkedFrame = now.poles.length === 0 || frameAt(film.times, now.timeS) === frame;
  const marking = useMarking({ facts, bitmap: shown?.bitmap ?? null, timeS, onMarkedFrame });
  const { marks, row, fit, chosen, seekResult, edit } = marking;

  const stage = useRef<HTMLDivElement>(null);
  /** On a phone the picture has been scrolled away where an end is asked for. */
  const ask = (slot: Slot) => {
    marking.setSlot(slot);
    stage.current?.scrollIntoView({ block: "center" });
  };
  const ready = fit?.map != null && !fit.problems.some((one) => !one.usable);
  useEffect(() => {
    if (ready) getReady();
  }, [ready]);
  const analysed = clip.analysis !== null && clip.analysis.backend !== byHand && !marksChanged(clip);
  return (
    <Screen
      title="Poles"
      back={`/clip/${clip.id}/film`}
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="poles" />}
      picture={
        <div className="look">
          <div className="look-stage poles-stage" ref={stage}>
            <PoleStage
              marking={marking}
              bitmap={shown?.bitmap ?? null}
              facts={facts}
              onMarkedFrame={onMarkedFrame}
              ready={ready}
            />
          </div>
          <Scrubber times={film.times} frame={frame} onFrame={setFrame} />
        </div>
      }
      actions={
        <>
          <UndoRedo history={state.marks} onUndo={marking.undo} onRedo={marking.redo} />
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
      {onMarkedFrame ? (
        <NextEnd marking={marking} ready={ready} />
      ) : (
        <Note>
          <p>The poles are marked on the frame at {marks.timeS.toFixed(2)} s.</p>
          <div className="line other-frame">
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
      {seekResult && <Note weight={seekResult.found ? "plain" : "warn"}>{seekResult.sentence}</Note>}
      {chosen && onMarkedFrame && (
        <Nudger label={capital(slotTold(chosen))} onNudge={marking.nudge} onRemove={marking.removeChosen} />
      )}
      {marks.poles.length < 2 && (
        <p className="soft">Tap two poles or more, both ends of each, and type the spacing.</p>
      )}
      <Problems
        fit={fit}
        even={row.even}
        missingSpacing={marks.poles.length > 1 && marks.gapsM.length === 0}
      />
      {fit?.map && ready && marks.poleHeightM === undefined && (
        <HeightAsked
          map={fit.map}
          units={settings.units}
          onGround={() => edit({ ...marks, poleHeightM: 0 })}
        />
      )}
      <RowFields
        row={row}
        poles={marks.poles.length}
        units={settings.units}
        poleLengthM={marks.poleLengthM ?? null}
        poleHeightM={marks.poleHeightM ?? null}
        onRow={marking.changeRow}
        onPole={(change) => edit({ ...marks, ...change }, "pole size")}
        onUnits={(units) => void bench.changeSettings({ units })}
      />
      {fit?.map && ready && (
        <Quality
          map={fit.map}
          facts={facts}
          cameraMoves={clip.analysis?.camera.kind === "moving"}
          units={settings.units}
        />
      )}
      {(marks.upright || (marks.poles.length > 1 && fit?.map?.kind !== "plane")) && (
        <WithersFields
          upright={marks.upright}
          units={settings.units}
          onAsk={() => ask({ pole: UPRIGHT, end: "near" })}
          onChange={(upright) => edit({ ...marks, upright }, "withers")}
        />
      )}
      <PoleList
        marks={marks}
        fit={fit}
        units={settings.units}
        chosen={chosen}
        onChoose={marking.setChosen}
        onRetap={ask}
        onRemove={marking.removePole}
      />
      <HowToMark />
    </Screen>
  );
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
