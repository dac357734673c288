import { useEffect, useRef, useState } from "react";
import type { CopyProgress, RestoreMode, RestoreReport } from "../../store/types.ts";
import { keeper, sentenceOf } from "../keeper.ts";
import { Note } from "../shell/Note.tsx";
import { Choice } from "./Choice.tsx";
import { bytes, dayAndTime } from "./words.ts";

type Busy = { what: string; progress: CopyProgress | null } | null;

/** One file out, one file in. */
export function BackupSheet({ lastBackupAt, records }: { lastBackupAt: number | null; records: number }) {
  const [films, setFilms] = useState(false);
  const [busy, setBusy] = useState<Busy>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [made, setMade] = useState<File | null>(null);
  const [report, setReport] = useState<RestoreReport | null>(null);
  const [chosen, setChosen] = useState<File | null>(null);
  const [mode, setMode] = useState<RestoreMode>("merge");
  const stop = useRef<AbortController | null>(null);
  useEffect(() => () => stop.current?.abort(), []);

  const working = async (what: string, work: (signal: AbortSignal) => Promise<void>) => {
    const now = new AbortController();
    stop.current = now;
    setProblem(null);
    setReport(null);
    setMade(null);
    setBusy({ what, progress: null });
    try {
      await work(now.signal);
    } catch (error) {
      setProblem(sentenceOf(error));
    } finally {
      setBusy(null);
    }
  };
  const onProgress = (what: string) => (progress: CopyProgress) => setBusy({ what, progress });

  const backUp = () =>
    working("Making the backup", async (signal) => {
      const blob = await (await keeper()).backup({
        films,
        signal,
        onProgress: onProgress("Making the backup"),
      });
      const day = new Date().toISOString().slice(0, 10);
      const file = new File([blob], `pawgap-backup-${day}.zip`, { type: "application/zip" });
      setMade(file);
      save(file);
    });
  const restore = (file: File) =>
    working("Restoring", async (signal) => {
      setReport(await (await keeper()).restore(file, mode, { signal, onProgress: onProgress("Restoring") }));
      setChosen(null);
    });

  return (
    <section className="sheet stack" aria-labelledby="backup">
      <h2 id="backup">Backup</h2>
      <p className="soft small">
        Everything is on this device only. A backup is one file that you keep elsewhere.{" "}
        {lastBackupAt ? `The last one: ${dayAndTime(lastBackupAt)}.` : "None was made yet."}
      </p>
      {problem && <Note weight="stop">{problem}</Note>}
      {busy ? (
        <div className="stack-tight" role="status">
          <strong>{busy.what} …</strong>
          <progress
            aria-label={busy.what}
            max={1}
            value={busy.progress?.bytesTotal ? busy.progress.bytesDone / busy.progress.bytesTotal : undefined}
          />
          <button type="button" className="button" onClick={() => stop.current?.abort()}>
            Stop
          </button>
        </div>
      ) : (
        <>
          <label className="kennel-check">
            <input type="checkbox" checked={films} onChange={(event) => setFilms(event.target.checked)} />
            <span>
              With the films
              <span className="soft small">
                A large file. Without them everything measured is in it all the same.
              </span>
            </span>
          </label>
          <button type="button" className="button button-go" onClick={backUp}>
            Back up now
          </button>
          {made && <Made file={made} />}
          {chosen ? (
            <div className="stack kennel-restore">
              <p>
                <strong>{chosen.name}</strong> ({bytes(chosen.size)})
              </p>
              {records > 0 && (
                <Choice<RestoreMode>
                  label="How"
                  value={mode}
                  options={[
                    { value: "merge", name: "Add to what is here" },
                    { value: "replace", name: "Take its place" },
                  ]}
                  onChange={setMode}
                />
              )}
              {records > 0 && mode === "replace" && (
                <Note weight="warn">Everything that is here now goes, and what is in the backup comes.</Note>
              )}
              <div className="kennel-answers">
                <button type="button" className="button button-go" onClick={() => restore(chosen)}>
                  Restore
                </button>
                <button type="button" className="button" onClick={() => setChosen(null)}>
                  Not now
                </button>
              </div>
            </div>
          ) : (
            <label className="button kennel-file">
              Restore a backup
              <input
                type="file"
                accept=".zip,application/zip"
                onChange={(event) => {
                  setChosen(event.currentTarget.files?.[0] ?? null);
                  event.currentTarget.value = "";
                }}
              />
            </label>
          )}
        </>
      )}
      {report && <Restored report={report} />}
    </section>
  );
}

function Made({ file }: { file: File }) {
  const canShare = "canShare" in navigator && navigator.canShare({ files: [file] });
  const share = () => navigator.share({ files: [file], title: file.name }).catch(() => {});
  return (
    <Note weight="good">
      <div className="stack-tight">
        <p>
          {file.name} ({bytes(file.size)}) went to your downloads.
        </p>
        <div className="line">
          {canShare && (
            <button type="button" className="button" onClick={share}>
              Share it
            </button>
          )}
          <button type="button" className="button" onClick={() => save(file)}>
            Save it again
          </button>
        </div>
      </div>
    </Note>
  );
}

function Restored({ report }: { report: RestoreReport }) {
  const parts = [
    counted(report.dogsAdded, "dog", "added"),
    counted(report.dogsUpdated, "dog", "brought up to date"),
    counted(report.sessionsAdded, "session", "added"),
    counted(report.sessionsUpdated, "session", "brought up to date"),
    counted(report.clipsAdded, "clip", "added"),
    counted(report.clipsUpdated, "clip", "brought up to date"),
    counted(report.filmsRestored, "film", "brought back"),
  ].filter((part) => part !== null);
  return (
    <div className="stack-tight" role="status">
      <Note weight="good">
        {parts.length > 0 ? `${parts.join(", ")}.` : "Everything in this backup was here already."}
      </Note>
      {report.notes.map((note) => (
        <Note key={note} weight="warn">
          {note}
        </Note>
      ))}
    </div>
  );
}

function counted(count: number, what: string, how: string): string | null {
  return count === 0 ? null : `${count} ${what}${count === 1 ? "" : "s"} ${how}`;
}

function save(file: File): void {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = file.name;
  link.click();
  // The download has its own hold on the blob by then.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
