import { type KeyboardEvent, useCallback, useMemo, useState } from "react";
import { Link, useLocation } from "wouter";
import { isDoubtful } from "../../charts/marks.ts";
import type { Landing, Pass, Paw } from "../../gait/types.ts";
import { fitGround } from "../../ground/fit.ts";
import type { GroundFit, GroundMap, ImagePoint } from "../../ground/types.ts";
import type { SeenDog } from "../../pipeline/types.ts";
import { gateWithDecisions } from "../../spacing/gating.ts";
import type { PassDecision, PoleGait } from "../../spacing/types.ts";
import { useBench } from "../bench.ts";
import { type Film, frameAt, useFilm } from "../film.ts";
import { byHand } from "../judging.ts";
import { type Grip, Stage } from "../picture/Stage.tsx";
import { usePicture } from "../picture/usePicture.ts";
import { ZoomButtons } from "../picture/ZoomButtons.tsx";
import { aroundRow } from "../poles/marking.ts";
import { MarksChanged, PathOf, SaveProblem, subtitleOf } from "../shell/clip-frame.tsx";
import { FilmMissing } from "../shell/FilmMissing.tsx";
import { Note } from "../shell/Note.tsx";
import { PawKey, pawName } from "../shell/PawShape.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Scrubber } from "../shell/Scrubber.tsx";
import { UndoRedo, undoKey } from "../shell/UndoRedo.tsx";
import { AddLanding } from "./AddLanding.tsx";
import { analysisByHand } from "./by-hand.ts";
import { addLanding, changeLanding, findLanding, nextLanding, passAt, removeLanding } from "./edit.ts";
import { GapStrip } from "./GapStrip.tsx";
import { LandingPanel } from "./LandingPanel.tsx";
import { nearestLanding } from "./nearest.ts";
import "../poles/poles.css";
import "./landings.css";
import { PassList } from "./PassList.tsx";
import { RowDrawing } from "./RowDrawing.tsx";
import { frameViewAt } from "./registration.ts";
import { SkeletonDrawing } from "./SkeletonDrawing.tsx";
import { TimeLane } from "./TimeLane.tsx";
import { useSkeleton } from "./useSkeleton.ts";

/** What the time lane shows around a pass, and how much where there is no pass, seconds. */
const aroundPassS = 0.3;
const lanePageS = 4;
/** Steps of a landing by arrow keys, metres. */
const nudgeM = 0.01;

/** One and the same empty list, so that nothing is looked for again and again. */
const noDogs: readonly SeenDog[] = [];

const otherSide: Record<Paw, Paw> = { LH: "RH", RH: "LH", LF: "RF", RF: "LF" };

export default function LandingsScreen() {
  const [state] = useBench();
  const { film } = useFilm();
  const { clip, marks } = state;
  const fit = useMemo<GroundFit | null>(() => {
    if (clip.analysis) return clip.analysis.ground;
    if (film.state !== "open" || marks.now.gapsM.length === 0) return null;
    return fitGround(marks.now, film.film.reader.facts);
  }, [clip.analysis, film, marks.now]);
  if (film.state === "open" && fit?.map) return <Landings film={film.film} fit={fit} map={fit.map} />;
  return (
    <Screen
      title="Landings"
      back={`/clip/${clip.id}/poles`}
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="landings" />}
    >
      <FilmMissing />
      {film.state === "open" && (
        <Note weight="stop">
          The poles of this clip are not marked yet, so no landing can be placed.{" "}
          <Link href={`/clip/${clip.id}/poles`}>Mark the poles</Link> first.
        </Note>
      )}
    </Screen>
  );
}

function Landings({ film, fit, map }: { film: Film; fit: GroundFit; map: GroundMap }) {
  const [state, bench] = useBench();
  const [, go] = useLocation();
  const { clip, session, settings } = state;
  const { facts } = film.reader;
  const passes = state.passes.now;
  const marks = clip.analysis?.marks ?? state.marks.now;

  const [frame, setFrame] = useState(() =>
    frameAt(film.times, firstLook(passes, map, clip.range?.[0] ?? marks.timeS)),
  );
  const [chosenId, setChosenId] = useState<string | null>(null);
  const [adding, setAdding] = useState<Paw | null>(null);
  const [held, setHeld] = useState<{ paw: Paw; at: ImagePoint; id: string | null } | null>(null);
  const timeS = film.times[frame] ?? 0;
  const { shown, problem } = usePicture(film.reader, timeS, Math.min(1600, facts.widthPx));
  const view = useMemo(
    () => frameViewAt(map, clip.analysis?.registrations ?? [], shown?.timeS ?? timeS),
    [map, clip.analysis, shown?.timeS, timeS],
  );

  const [boned, setBoned] = useState(false);
  const skeleton = useSkeleton(boned, shown, facts, clip.analysis?.dogs ?? noDogs);

  const row = useMemo(() => {
    const last = map.poleXM.at(-1) ?? 0;
    const corners = [0, last].flatMap((xM) => [0, map.poleLengthM].map((yM) => view.toFrame({ xM, yM })));
    return aroundRow(corners.filter((point) => Number.isFinite(point.x) && Number.isFinite(point.y)));
  }, [map, view]);

  const chosen = findLanding(passes, chosenId);
  const pass = chosen?.pass ?? passAt(passes, timeS);
  const endS = film.times.at(-1) ?? 0;
  // Away from passes the lane turns its pages rather than gliding along under the finger.
  const pageS = Math.floor(timeS / lanePageS) * lanePageS;
  const span: [number, number] = pass
    ? [Math.max(0, pass.startS - aroundPassS), Math.min(endS, pass.endS + aroundPassS)]
    : [pageS, Math.min(endS, pageS + lanePageS)];
  const leftOut = useMemo(
    () => leftOutByProgram(passes, session.gait, clip.passChoices),
    [passes, session.gait, clip.passChoices],
  );

  const onFrame = useCallback((next: number) => setFrame(next), []);
  const toTime = (time: number) => setFrame(frameAt(film.times, time));
  const choose = (id: string) => {
    const found = findLanding(passes, id);
    setChosenId(id);
    setAdding(null);
    if (found) toTime((found.landing.onS + found.landing.offS) / 2);
  };

  const chooseNext = (by: 1 | -1) => {
    const from = chosen ? (chosen.landing.onS + chosen.landing.offS) / 2 : timeS;
    const next = nextLanding(passes, from, by);
    if (next) choose(next.id);
  };

  const edit = (next: Pass[], key: string | null = null) => {
    if (!clip.analysis) bench.changeClip({ analysis: analysisByHand(facts, marks, fit) });
    bench.editPasses(next, key);
  };

  const change = (id: string, what: Partial<Landing>, key: string | null = null) =>
    edit(changeLanding(passes, id, what), key);

  const remove = (id: string) => {
    edit(removeLanding(passes, id));
    setChosenId(null);
  };

  const placeOf = (point: ImagePoint) => {
    const place = view.toGround(point);
    return { xM: place.xM, yM: place.yM, xSeM: view.tapErrorM(point) };
  };

  const press = (at: ImagePoint, reach: number): Grip | null => {
    if (!shown) return null;
    if (adding) {
      setHeld({ paw: adding, at, id: null });
      return {
        move: (to) => setHeld({ paw: adding, at: to, id: null }),
        release: (to) => {
          setHeld(null);
          const place = placeOf(to);
          if (!Number.isFinite(place.xM) || !Number.isFinite(place.yM)) return;
          const id = `h${crypto.randomUUID().slice(0, 12)}`;
          edit(addLanding(passes, { id, paw: adding, timeS, ...place }));
          setChosenId(id);
          setAdding(otherSide[adding]);
        },
        cancel: () => setHeld(null),
      };
    }
    const grabbed = nearestLanding(
      pass?.landings ?? [],
      (landing) => view.toFrame(landing),
      at,
      reach,
      timeS,
    );
    if (!grabbed) {
      setChosenId(null);
      return null;
    }
    const start = view.toFrame(grabbed);
    const away = { x: start.x - at.x, y: start.y - at.y };
    let moved = false;
    setChosenId(grabbed.id);
    return {
      move: (to) => {
        moved ||= Math.hypot(to.x - at.x, to.y - at.y) > reach / 2;
        if (moved) setHeld({ paw: grabbed.paw, at: { x: to.x + away.x, y: to.y + away.y }, id: grabbed.id });
      },
      release: (to) => {
        setHeld(null);
        if (!moved) return;
        const place = placeOf({ x: to.x + away.x, y: to.y + away.y });
        if (Number.isFinite(place.xM) && Number.isFinite(place.yM)) change(grabbed.id, place);
      },
      cancel: () => setHeld(null),
    };
  };

  const onKeyDown = (event: KeyboardEvent) => {
    const history = undoKey(event);
    const sideways = event.key === "ArrowLeft" ? -1 : event.key === "ArrowRight" ? 1 : 0;
    const across = event.key === "ArrowDown" ? -1 : event.key === "ArrowUp" ? 1 : 0;
    if ((sideways || across) && event.shiftKey && chosen) {
      // Right on the screen is towards the last pole only where the row runs that way in the picture.
      const mirror = view.toFrame({ xM: 1, yM: 0 }).x >= view.toFrame({ xM: 0, yM: 0 }).x ? 1 : -1;
      change(
        chosen.landing.id,
        {
          xM: chosen.landing.xM + sideways * mirror * nudgeM,
          yM: chosen.landing.yM + across * nudgeM,
        },
        `nudge ${chosen.landing.id}`,
      );
    } else if (sideways) setFrame(Math.min(Math.max(frame + sideways, 0), film.times.length - 1));
    else if ((event.key === "Delete" || event.key === "Backspace") && chosen) remove(chosen.landing.id);
    else if (event.key === "Escape") {
      setAdding(null);
      setChosenId(null);
    } else if (history === "undo") bench.undoPasses();
    else if (history === "redo") bench.redoPasses();
    else return;
    event.preventDefault();
  };

  const none = passes.every((one) => one.landings.length === 0);
  const doubtful = passes.flatMap((one) => one.landings).filter((one) => isDoubtful(one)).length;
  return (
    <Screen
      title="Landings"
      back={`/clip/${clip.id}/poles`}
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="landings" />}
      picture={
        <div className="look">
          <div className="look-stage landings-stage">
            <Stage
              bitmap={shown?.bitmap ?? null}
              picture={{ width: facts.widthPx, height: facts.heightPx }}
              label="The frame with the landings. Arrow keys go frame by frame; with Shift they move the chosen landing by 1 cm."
              press={press}
              loupeAt={held?.at ?? null}
              onKeyDown={onKeyDown}
              first={row}
              overlay={(stageView) => (
                <>
                  {boned && <SkeletonDrawing joints={skeleton.joints} view={stageView} />}
                  <RowDrawing
                    map={map}
                    frame={view}
                    view={stageView}
                    timeS={shown?.timeS ?? timeS}
                    poleHeightM={marks.poleHeightM ?? 0}
                    landings={(pass?.landings ?? []).filter((one) => one.id !== held?.id)}
                    chosenId={chosenId}
                    held={held}
                  />
                </>
              )}
            >
              {(control) => (
                <>
                  {adding && (
                    <p className="poles-ask" role="status">
                      Tap where the <strong>{pawName[adding]}</strong> stands
                    </p>
                  )}
                  {!adding && view.sure && boned && skeleton.told && (
                    <p className="poles-ask">{skeleton.told}</p>
                  )}
                  {!adding && !view.sure && (
                    <p className="poles-ask">The background was lost here: places are off</p>
                  )}
                  <div className="stage-tools">
                    {clip.analysis?.dogs && (
                      <button
                        type="button"
                        className="skeleton-switch"
                        aria-pressed={boned}
                        onClick={() => setBoned(!boned)}
                      >
                        Skeleton
                      </button>
                    )}
                    <ZoomButtons control={control} />
                  </div>
                </>
              )}
            </Stage>
          </div>
          <Scrubber
            times={film.times}
            frame={frame}
            onFrame={onFrame}
            playable
            waiting={shown?.timeS !== timeS}
          />
          <TimeLane
            passes={passes}
            span={span}
            timeS={timeS}
            chosenId={chosenId}
            onTime={toTime}
            onChoose={choose}
          />
        </div>
      }
      actions={
        <>
          <UndoRedo
            history={state.passes}
            onUndo={() => bench.undoPasses()}
            onRedo={() => bench.redoPasses()}
          />
          <button
            type="button"
            className="button button-go"
            disabled={none}
            onClick={() => go(`/clip/${clip.id}/verdict`)}
          >
            To the verdict
          </button>
        </>
      }
    >
      <SaveProblem state={state} />
      <MarksChanged state={state} />
      {problem && <Note weight="stop">{problem}</Note>}
      {clip.analysis?.warnings.map((warning) => (
        <Note key={warning} weight="warn">
          {warning}
        </Note>
      ))}
      {none && (
        <Note weight={clip.analysis && clip.analysis.backend !== byHand ? "warn" : "plain"}>
          {clip.analysis && clip.analysis.backend !== byHand
            ? "No landing was found by itself. You can mark them by hand: "
            : "Mark the landings by hand: "}
          go to a frame in which a paw stands, choose which paw it is, and tap the ground under it. Four hind
          landings or more give a verdict.
          {!clip.analysis && (
            <div className="line other-frame">
              <button
                type="button"
                className="button"
                onClick={() => {
                  void bench.analyse(film.blob, "camera");
                  go(`/clip/${clip.id}/run`);
                }}
              >
                The phone was in the hand: follow it first
              </button>
            </div>
          )}
        </Note>
      )}
      {chosen && !adding ? (
        <LandingPanel
          pass={chosen.pass}
          landing={chosen.landing}
          layout={session.layout}
          units={settings.units}
          timeS={timeS}
          onChange={(what) => change(chosen.landing.id, what)}
          onRemove={() => remove(chosen.landing.id)}
          onNext={chooseNext}
          onClose={() => setChosenId(null)}
        />
      ) : (
        <AddLanding
          adding={adding}
          onAdding={(paw) => {
            setAdding(paw);
            setChosenId(null);
          }}
          onNext={none ? null : () => chooseNext(1)}
        />
      )}
      {session.layout && !session.bareGround && !none && (
        <GapStrip
          passes={passes}
          layout={session.layout}
          passId={pass?.id ?? null}
          chosenId={chosenId}
          onChoose={choose}
        />
      )}
      <PawKey />
      {doubtful > 0 && (
        <Note weight="warn">
          {doubtful === 1 ? "One landing is doubtful" : `${doubtful} landings are doubtful`} (broken rim).
          Choose it, look at the frames, and press “It is right” or correct it.
        </Note>
      )}
      <PassList
        passes={passes}
        setAside={clip.analysis?.setAside ?? []}
        knocks={clip.analysis?.poles?.knocks ?? []}
        units={settings.units}
        leftOut={leftOut}
        choices={clip.passChoices}
        passId={pass?.id ?? null}
        onPass={(id) => {
          setChosenId(null);
          const target = passes.find((one) => one.id === id);
          if (target) toTime(firstLook([target], map, target.startS));
        }}
        onTime={toTime}
        onChoice={(id, choice) => {
          const { [id]: _, ...others } = clip.passChoices;
          bench.changeClip({ passChoices: choice ? { ...others, [id]: choice } : others });
        }}
      />
    </Screen>
  );
}

/** What the program alone would leave out, and why, by pass id. */
function leftOutByProgram(
  passes: readonly Pass[],
  gait: PoleGait,
  decisions: Record<string, PassDecision>,
): Record<string, string> {
  const { setAside, keptDespite } = gateWithDecisions(passes, gait, decisions);
  const byHand = (id: string) => decisions[id]?.use === false;
  return Object.fromEntries([...setAside, ...keptDespite].filter(([id]) => !byHand(id)));
}

/** Mid-stance of the first landing in the row, else of the first at all. */
function firstLook(passes: readonly Pass[], map: GroundMap, otherwiseS: number): number {
  const landings = passes.find((one) => one.landings.length > 0)?.landings ?? [];
  const last = map.poleXM.at(-1) ?? 0;
  const look = landings.find((one) => one.xM >= 0 && one.xM <= last) ?? landings[0];
  return look ? (look.onS + look.offS) / 2 : otherwiseS;
}
