import { useEffect, useRef, useState } from "react";
import { exportClip } from "../../report/annotated-clip.ts";
import { exportFramesZip } from "../../report/frames.ts";
import { sentenceOf } from "../keeper.ts";
import { Note } from "../shell/Note.tsx";
import type { ReportClip, ReportMatter } from "./matter.ts";
import { analysisOf, csvFile, download, fileStem, jsonFile, withFilm } from "./takeaway.ts";

type Make = (signal: AbortSignal, onProgress: (done: number) => void) => Promise<File>;

interface Takeaway {
  id: string;
  name: string;
  detail: string;
  make: Make;
}

type Work =
  | { state: "none" }
  | { state: "running"; what: Takeaway; done: number }
  | { state: "failed"; sentence: string }
  | { state: "made"; name: string };

/** Every form in which the report can be taken along. One is made at a time, with progress and a way to stop. */
export function Takeaways({ matter, reportFile }: { matter: ReportMatter; reportFile(): File }) {
  const [work, setWork] = useState<Work>({ state: "none" });
  const stop = useRef<AbortController | null>(null);
  useEffect(() => () => stop.current?.abort(), []);

  const take = async (what: Takeaway) => {
    const controller = new AbortController();
    stop.current = controller;
    setWork({ state: "running", what, done: 0 });
    try {
      const file = await what.make(controller.signal, (done) => {
        if (!controller.signal.aborted) setWork({ state: "running", what, done });
      });
      download(file, file.name);
      setWork({ state: "made", name: file.name });
    } catch (error) {
      if (controller.signal.aborted) setWork({ state: "none" });
      else setWork({ state: "failed", sentence: sentenceOf(error) });
    }
  };

  const running = work.state === "running";
  return (
    <section className="stack-tight" aria-labelledby="takeaways">
      <h2 id="takeaways">Take it along</h2>
      <div className="takeaways">
        {takeawaysOf(matter, reportFile).map((what) => (
          <button
            key={what.id}
            type="button"
            className="button takeaway"
            disabled={running}
            onClick={() => void take(what)}
          >
            <TakeSign />
            <span>
              {what.name}
              <small>{what.detail}</small>
            </span>
          </button>
        ))}
      </div>
      {running && (
        <div className="takeaway-progress" role="status">
          <span>{work.what.name} …</span>
          <progress value={work.done || undefined} max={1} aria-label={`${work.what.name}, progress`} />
          <button type="button" className="button" onClick={() => stop.current?.abort()}>
            Stop
          </button>
        </div>
      )}
      {work.state === "failed" && <Note weight="stop">{work.sentence}</Note>}
      {work.state === "made" && <Note weight="good">{work.name} is in your downloads.</Note>}
    </section>
  );
}

function takeawaysOf(matter: ReportMatter, reportFile: () => File): Takeaway[] {
  const several = matter.clips.length > 1;
  return [
    {
      id: "report",
      name: "Report page",
      detail: "opens in any browser",
      make: async () => reportFile(),
    },
    {
      id: "csv",
      name: "Landings",
      detail: "CSV for a spreadsheet",
      make: (signal) => csvFile(matter, signal),
    },
    {
      id: "json",
      name: "All numbers",
      detail: several ? "JSON, one a clip, zipped" : "JSON for other programs",
      make: (signal) => jsonFile(matter, signal),
    },
    ...matter.clips.flatMap((clip, i) => filmTakeaways(matter, clip, several ? ` of clip ${i + 1}` : "", i)),
  ];
}

function filmTakeaways(matter: ReportMatter, clip: ReportClip, which: string, index: number): Takeaway[] {
  const stem = `${fileStem(matter)}${which === "" ? "" : `-clip-${index + 1}`}`;
  const { units } = matter.settings;
  return [
    {
      id: `frames-${index}`,
      name: `Pictures${which}`,
      detail: "every landing, PNG, zipped",
      make: (signal, onProgress) =>
        withFilm(clip, signal, async (reader) => {
          const zip = await exportFramesZip(reader, analysisOf(clip, reader), clip.judgement, {
            signal,
            onProgress,
            units,
          });
          return new File([zip], `${stem}-landings.zip`, { type: zip.type });
        }),
    },
    ...[1, 4].map(
      (slowdown): Takeaway => ({
        id: `film-${index}-${slowdown}`,
        name: `Marked film${slowdown === 1 ? "" : ", slow"}${which}`,
        detail: slowdown === 1 ? "poles and landings drawn in" : "a quarter of the speed",
        make: (signal, onProgress) =>
          withFilm(clip, signal, async (reader) => {
            const options = { signal, onProgress, units, slowdown };
            const film = await exportClip(reader, analysisOf(clip, reader), clip.judgement, options);
            const name = `${stem}-marked${slowdown === 1 ? "" : "-slow"}.mp4`;
            return new File([film], name, { type: film.type });
          }),
      }),
    ),
  ];
}

/** Down into a tray. */
function TakeSign() {
  return (
    <svg width="22" height="22" viewBox="0 0 24 24" fill="none" stroke="currentColor" aria-hidden="true">
      <path
        d="M12 4v10m-4.5-4 4.5 4.5 4.5-4.5M5 16v3.5h14V16"
        strokeWidth="2.2"
        strokeLinecap="round"
        strokeLinejoin="round"
      />
    </svg>
  );
}
