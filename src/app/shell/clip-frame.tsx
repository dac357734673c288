import { Link } from "wouter";
import type { BenchState } from "../bench.ts";
import { marksChanged } from "../judging.ts";
import { Note } from "./Note.tsx";
import { PathBar, type StepId } from "./PathBar.tsx";

const day = new Intl.DateTimeFormat(undefined, {
  day: "numeric",
  month: "short",
  hour: "2-digit",
  minute: "2-digit",
});

/** Which dog and when, for the line under a screen's name. */
export function subtitleOf({ session, clip }: BenchState): string {
  return [session.dogName || clip.fileName, day.format(session.date)].join(" · ");
}

/** The path bar with the steps that this clip has come to. */
export function PathOf({ state, current }: { state: BenchState; current: StepId }) {
  const measured = state.clip.analysis !== null || state.clip.editedPasses !== null;
  const open: StepId[] = measured
    ? ["film", "poles", "landings", "verdict", "report"]
    : ["film", "poles", ...(state.marks.now.poles.length >= 2 ? (["landings"] as const) : [])];
  return <PathBar clipId={state.clip.id} current={current} open={open} />;
}

/** Says that the landings were measured over poles marked otherwise. */
export function MarksChanged({ state }: { state: BenchState }) {
  const { clip } = state;
  if (!marksChanged(clip)) return null;
  return (
    <Note weight="warn">
      The poles were marked anew after these landings had been found.{" "}
      <Link href={`/clip/${clip.id}/run`}>Find the landings again</Link>; corrections by hand can then be had
      back with undo.
    </Note>
  );
}

/** What must be known on every screen of a clip: a change that could not be kept, an analysis that was broken off. */
export function SaveProblem({ state }: { state: BenchState }) {
  return (
    <>
      {state.saveProblem && <Note weight="stop">{state.saveProblem}</Note>}
      {state.run.state === "broken-off" && (
        <Note weight="warn">
          The page was closed while the landings were being found.{" "}
          <Link href={`/clip/${state.clip.id}/run`}>Go on where it stopped</Link>.
        </Note>
      )}
    </>
  );
}
