import { useEffect, useState } from "react";
import { Link, useLocation } from "wouter";
import type { AnalysisProgress } from "../../pipeline/types.ts";
import { useBench } from "../bench.ts";
import { useFilm } from "../film.ts";
import { ProblemReport } from "../problem/ProblemReport.tsx";
import { PathOf, SaveProblem, subtitleOf } from "../shell/clip-frame.tsx";
import { FilmMissing } from "../shell/FilmMissing.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { SoFar } from "./SoFar.tsx";
import "./run.css";

const stages: { id: AnalysisProgress["stage"]; name: string }[] = [
  { id: "opening", name: "Opening the clip and the network" },
  { id: "camera", name: "Following the camera" },
  { id: "paws", name: "Looking for paws" },
  { id: "landings", name: "Finding the landings" },
];

/** Finds the landings: starts by itself, shows how far it is, can be stopped, and goes on to what was found. */
export default function RunScreen() {
  const [state, bench] = useBench();
  const { film } = useFilm();
  const [, go] = useLocation();
  const { clip, run } = state;
  const [started, setStarted] = useState(run.state === "running");
  const blob = film.state === "open" ? film.film.blob : null;
  const canStart = blob !== null && state.marks.now.gapsM.length > 0;

  useEffect(() => {
    if (started || !canStart || !blob) return;
    setStarted(true);
    void bench.analyse(blob);
  }, [started, canStart, blob, bench]);

  const done = started && run.state === "none" && clip.analysis !== null;
  useEffect(() => {
    if (!done) return;
    const found = bench.get().passes.now.some((pass) => pass.landings.length > 0);
    go(`/clip/${clip.id}/${found ? "verdict" : "landings"}`, { replace: true });
  }, [done, bench, go, clip.id]);

  const again = () => {
    if (blob) void bench.analyse(blob);
  };
  return (
    <Screen
      title="Finding the landings"
      back={`/clip/${clip.id}/poles`}
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="landings" />}
      actions={
        run.state === "running" ? (
          <button type="button" className="button button-go" onClick={() => bench.cancelAnalysis()}>
            Stop
          </button>
        ) : run.state === "failed" || run.state === "cancelled" ? (
          <>
            <Link href={`/clip/${clip.id}/landings`} className="button">
              Mark by hand
            </Link>
            <button type="button" className="button button-go" disabled={!canStart} onClick={again}>
              Try again
            </button>
          </>
        ) : undefined
      }
    >
      <SaveProblem state={state} />
      <FilmMissing />
      {state.marks.now.gapsM.length === 0 && (
        <Note weight="stop">
          The poles of this clip are not marked yet, so nothing can be measured in centimetres.{" "}
          <Link href={`/clip/${clip.id}/poles`}>Mark the poles</Link> first.
        </Note>
      )}
      {run.state === "running" && (
        <>
          <Progress progress={run.progress} startedAt={run.startedAt} />
          <SoFar passes={run.soFar} gapsM={state.marks.now.gapsM} />
        </>
      )}
      {run.state === "failed" && (
        <>
          <Note weight="stop">{run.sentence}</Note>
          <p className="soft">
            Your poles and everything else are kept. You can also mark the landings by hand.
          </p>
          <ProblemReport sentence={run.sentence} />
        </>
      )}
      {run.state === "cancelled" && (
        <Note>Stopped. Your poles are kept; start again when you like, or mark the landings by hand.</Note>
      )}
    </Screen>
  );
}

function Progress({ progress, startedAt }: { progress: AnalysisProgress; startedAt: number }) {
  const at = stages.findIndex((stage) => stage.id === progress.stage);
  const { looksTakenUp = 0 } = progress;
  return (
    <section className="stack" aria-label="Progress">
      <progress value={progress.done} max={1} aria-label="How much is done" />
      <p className="run-figures">
        <strong className="run-percent">{Math.round(100 * progress.done)} %</strong>
        <span className="soft">
          {progress.framesTotal > 0 && `frame ${progress.framesDone} of ${progress.framesTotal}`}
          <Remaining done={progress.done} startedAt={startedAt} />
        </span>
      </p>
      <ol className="run-stages">
        {stages.map((stage, k) => (
          <li key={stage.id} data-state={k < at ? "done" : k === at ? "now" : "later"}>
            {stage.name}
          </li>
        ))}
      </ol>
      {looksTakenUp > 0 && (
        <p className="soft" data-taken-up={looksTakenUp}>
          Going on where it stopped: {looksTakenUp} looks made before are used again.
        </p>
      )}
      <p className="soft">
        Everything is worked out on this device; the clip goes nowhere. You may look at other screens of this
        clip meanwhile. If the page is closed, what is done by then is kept.
      </p>
    </section>
  );
}

/** Says nothing until there is something to go by. */
function Remaining({ done, startedAt }: { done: number; startedAt: number }) {
  const spentS = (performance.now() - startedAt) / 1000;
  if (done < 0.08 || spentS < 3) return null;
  const leftS = (spentS * (1 - done)) / done;
  const words =
    leftS < 8
      ? "a few seconds"
      : leftS < 90
        ? `${Math.ceil(leftS / 5) * 5} s`
        : `${Math.ceil(leftS / 60)} min`;
  return <> · about {words} left</>;
}
