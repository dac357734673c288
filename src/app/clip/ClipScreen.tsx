import { useCallback, useMemo, useState } from "react";
import { useLocation, useSearch } from "wouter";
import type { PoleGait } from "../../spacing/types.ts";
import type { Keeper } from "../../store/types.ts";
import type { ClipFacts } from "../../video/types.ts";
import { useBench } from "../bench.ts";
import { type Film, frameAt, useFilm } from "../film.ts";
import { useKept } from "../keeper.ts";
import { Stage } from "../picture/Stage.tsx";
import { usePicture } from "../picture/usePicture.ts";
import { PathOf, SaveProblem, subtitleOf } from "../shell/clip-frame.tsx";
import { FilmMissing } from "../shell/FilmMissing.tsx";
import { GroundChoice } from "../shell/GroundChoice.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Scrubber } from "../shell/Scrubber.tsx";
import { Overview } from "./Overview.tsx";
import { longS, Stretch } from "./Stretch.tsx";

/** Frames that the fine slider goes through at a time in a long clip. */
const pageFrames = 360;

const readDogs = (keeper: Keeper) => keeper.dogs();

/** What was filmed: facts and warnings, which dog, which gait, and the stretch to look at. */
export default function ClipScreen() {
  const [state] = useBench();
  const { film } = useFilm();
  const [, go] = useLocation();
  return film.state === "open" ? (
    <OpenClip film={film.film} onNext={() => go(`/clip/${state.clip.id}/poles`)} />
  ) : (
    <Screen title="Clip" back="/" subtitle={subtitleOf(state)} path={<PathOf state={state} current="film" />}>
      <FilmMissing />
    </Screen>
  );
}

function OpenClip({ film, onNext }: { film: Film; onNext(): void }) {
  const [state, bench] = useBench();
  const dogs = useKept(readDogs);
  const { facts } = film.reader;
  const { clip, session } = state;
  const [frame, setFrame] = useState(() => frameAt(film.times, clip.range?.[0] ?? 0));
  const timeS = film.times[frame] ?? 0;
  const { shown, problem } = usePicture(film.reader, timeS, 1280);
  const isLong = (film.times.at(-1) ?? 0) > longS;
  // A finger on a slider of minutes skips seconds: frame by frame it goes through a page of the clip.
  const page = isLong ? Math.floor(frame / pageFrames) : 0;
  const near = useMemo(() => {
    if (!isLong) return { from: 0, times: film.times };
    const from = Math.max(0, page * pageFrames - 1);
    return { from, times: film.times.slice(from, (page + 1) * pageFrames + 1) };
  }, [film.times, isLong, page]);
  const onFrame = useCallback((next: number) => setFrame(near.from + next), [near.from]);
  const notKept = useSearch().includes("film=not-kept");
  // In a long clip choosing the pass comes first.
  const stretch = (
    <Stretch
      times={film.times}
      range={clip.range}
      here={timeS}
      onChange={(range) => bench.changeClip({ range })}
    />
  );
  return (
    <Screen
      title="Clip"
      back="/"
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="film" />}
      picture={
        <div className="look">
          <div className="look-stage">
            <Stage
              bitmap={shown?.bitmap ?? null}
              picture={{ width: facts.widthPx, height: facts.heightPx }}
              label="The clip. Pinch or turn the wheel to look closer."
            />
          </div>
          {isLong && (
            <Overview
              film={film}
              timeS={timeS}
              range={clip.range}
              onTime={(time) => setFrame(frameAt(film.times, time))}
            />
          )}
          <Scrubber
            times={near.times}
            frame={frame - near.from}
            onFrame={onFrame}
            playable
            waiting={shown?.timeS !== timeS}
          />
        </div>
      }
      actions={
        <button type="button" className="button button-go" onClick={onNext}>
          Mark the poles
        </button>
      }
    >
      <SaveProblem state={state} />
      {problem && <Note weight="stop">{problem}</Note>}
      {notKept && (
        <Note weight="warn">
          There is no room to keep this film on the device. You can work on it until this page is closed; what
          you measure is kept. Free some room under Settings to keep films too.
        </Note>
      )}
      {facts.warnings.map((warning) => (
        <Note key={warning} weight="warn">
          {warning}
        </Note>
      ))}
      {isLong && stretch}
      <div className="clip-asks">
        <label className="field">
          Dog
          <select
            value={session.dogId ?? ""}
            onChange={(event) => void bench.chooseDog(event.currentTarget.value || null)}
          >
            <option value="">Not said</option>
            {dogs.state === "here" &&
              dogs.value.map((dog) => (
                <option key={dog.id} value={dog.id}>
                  {dog.name}
                </option>
              ))}
          </select>
        </label>
        <fieldset className="field">
          <legend>Gait through the poles</legend>
          <div className="choice">
            {(["walk", "trot"] satisfies PoleGait[]).map((gait) => (
              <label key={gait}>
                <input
                  type="radio"
                  name="gait"
                  checked={session.gait === gait}
                  onChange={() => bench.changeSession({ gait })}
                />
                {gait}
              </label>
            ))}
          </div>
        </fieldset>
        <GroundChoice
          bareGround={session.bareGround === true}
          onChange={(bareGround) => bench.changeSession({ bareGround })}
        />
      </div>
      {!isLong && stretch}
      <Facts facts={facts} />
    </Screen>
  );
}

function Facts({ facts }: { facts: ClipFacts }) {
  const minutes = Math.floor(facts.durationS / 60);
  const seconds = facts.durationS - 60 * minutes;
  return (
    <section className="sheet" aria-label="About this clip">
      <dl className="facts">
        <div>
          <dt>Length</dt>
          <dd>
            {minutes > 0 ? `${minutes} min ` : ""}
            {seconds.toFixed(1)} s, {facts.frameCount === 1 ? "1 frame" : `${facts.frameCount} frames`}
          </dd>
        </div>
        <div>
          <dt>Picture</dt>
          <dd>
            {facts.widthPx} × {facts.heightPx}
            {facts.rotationDeg ? `, turned ${facts.rotationDeg}°` : ""}
          </dd>
        </div>
        <div>
          <dt>Frame rate</dt>
          <dd>
            {facts.frameCount > 1
              ? `${facts.meanFps.toFixed(facts.meanFps < 100 ? 1 : 0)} a second, ${facts.variableRate ? "variable" : "even"}`
              : "none"}
          </dd>
        </div>
        <div>
          <dt>File</dt>
          <dd>
            {facts.fileName}, {(facts.sizeBytes / 1e6).toFixed(1)} MB
          </dd>
        </div>
        <div>
          <dt>Read by</dt>
          <dd>
            {facts.decoder === "browser" ? "this browser" : "the slower reader"} ({facts.codec})
          </dd>
        </div>
      </dl>
    </section>
  );
}
