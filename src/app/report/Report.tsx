import { type ReactNode, useCallback, useMemo, useState } from "react";
import { reportFrames } from "../../report/frames.ts";
import { renderOnePage } from "../../report/one-page.ts";
import { renderReport } from "../../report/report.ts";
import { cautions } from "../../spacing/cautions.ts";
import type { Keeper } from "../../store/types.ts";
import { sentenceOf, useKept } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { type ReportMatter, readReportRecords, reportMatter } from "./matter.ts";
import { NaturalReport } from "./NaturalReport.tsx";
import { ReportSheet } from "./ReportSheet.tsx";
import { SheetActions } from "./SheetActions.tsx";
import { Takeaways } from "./Takeaways.tsx";
import { analysisOf, fileStem, withFilm } from "./takeaway.ts";
import { useSheet } from "./useSheet.ts";
import "./report.css";
import { Choice } from "../kennel/Choice.tsx";

/** What stands around a report's screen. */
export interface ReportFrame {
  back?: string | undefined;
  subtitle?: string | undefined;
  path?: ReactNode;
}

/** On one sheet for an owner or a veterinarian, or with every landing and every drawing. */
type Extent = "one-page" | "whole";

/** The report of a session: to read, print, share and take along. */
export default function Report({ sessionId, ...frame }: ReportFrame & { sessionId: string }) {
  const kept = useKept(useCallback((keeper: Keeper) => readReportRecords(keeper, sessionId), [sessionId]));
  const matter = useMemo(() => {
    if (kept.state !== "here") return null;
    try {
      return { ready: reportMatter(kept.value), problem: null };
    } catch (error) {
      return { ready: null, problem: sentenceOf(error) };
    }
  }, [kept]);
  if (kept.state === "reading") return <Waiting title="Report" />;
  if (kept.state === "here" && kept.value.session?.bareGround) {
    return <NaturalReport session={kept.value.session} records={kept.value} frame={frame} />;
  }
  if (!matter?.ready) {
    return (
      <Screen title="Report" back="/" {...frame}>
        <Note weight="stop">
          {kept.state === "failed"
            ? kept.sentence
            : (matter?.problem ?? nothingYet(kept.value.session !== undefined))}
        </Note>
      </Screen>
    );
  }
  return <Shown matter={matter.ready} frame={frame} />;
}

function nothingYet(known: boolean): string {
  return known
    ? "There is nothing to report yet: mark the poles of a clip, and find or place its landings, first."
    : "There is no such session on this device. It may have been removed.";
}

function Shown({ matter, frame }: { matter: ReportMatter; frame: ReportFrame }) {
  const [extent, setExtent] = useState<Extent>("one-page");
  const [frames, setFrames] = useState<{ dataUrl: string; caption: string }[]>([]);
  const html = useMemo(() => reportHtml(matter, extent, frames), [matter, extent, frames]);
  const sheet = useSheet(html, `${fileStem(matter)}-report.html`);
  return (
    <Screen title="Report" back="/" {...frame} actions={<SheetActions sheet={sheet} />}>
      {sheet.problem && <Note weight="stop">{sheet.problem}</Note>}
      <div className="report-desk">
        <div className="stack">
          <Choice<Extent>
            label="How much"
            value={extent}
            options={[
              { value: "one-page", name: "One page" },
              { value: "whole", name: "Every landing" },
            ]}
            onChange={setExtent}
          />
          <Takeaways matter={matter} reportFile={sheet.file} />
          {extent === "whole" && (
            <FilmPictures matter={matter} shown={frames.length > 0} onFrames={setFrames} />
          )}
        </div>
        <ReportSheet ref={sheet.ref} html={html} />
      </div>
    </Screen>
  );
}

interface FilmPicturesProps {
  matter: ReportMatter;
  shown: boolean;
  onFrames(frames: { dataUrl: string; caption: string }[]): void;
}

/** Puts a few pictures from the film into the report, or takes them out. */
function FilmPictures({ matter, shown, onFrames }: FilmPicturesProps) {
  const [done, setDone] = useState<number | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [clip] = matter.clips;
  if (!clip) return null;

  const add = async () => {
    setProblem(null);
    setDone(0);
    try {
      const frames = await withFilm(clip, new AbortController().signal, (reader) =>
        reportFrames(reader, analysisOf(clip, reader), clip.judgement, {
          units: matter.settings.units,
          onProgress: setDone,
        }),
      );
      onFrames(frames);
      if (frames.length === 0) setProblem("No hind landing in the row to show a picture of.");
    } catch (error) {
      setProblem(sentenceOf(error));
    } finally {
      setDone(null);
    }
  };
  return (
    <div className="stack-tight">
      {done !== null ? (
        <progress value={done || undefined} max={1} aria-label="Pictures for the report" />
      ) : shown ? (
        <button type="button" className="button" onClick={() => onFrames([])}>
          <Icon name="minus" /> Leave film pictures out
        </button>
      ) : (
        <button type="button" className="button" onClick={() => void add()}>
          <Icon name="plus" /> Film pictures into the report
        </button>
      )}
      {problem && <Note weight="warn">{problem}</Note>}
    </div>
  );
}

function reportHtml(
  { judgement, clips, layout, dog, session, settings }: ReportMatter,
  extent: Extent,
  frames: { dataUrl: string; caption: string }[],
): string {
  const render = extent === "one-page" ? renderOnePage : renderReport;
  return render({
    judgement,
    analyses: clips.flatMap((clip) => (clip.analysis ? [clip.analysis] : [])),
    layout,
    dog: { name: dog?.name ?? session.dogName },
    session,
    practitioner: { name: settings.practitioner, practice: settings.practice, logo: settings.logo },
    cautions: (dog?.cautions ?? []).map((id) => cautions[id].sentence),
    units: settings.units,
    frames,
  });
}
