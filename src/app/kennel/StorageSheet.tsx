import { useCallback, useEffect, useState } from "react";
import type { ClipRecord, Keeper, Session, Settings, StorageReport } from "../../store/types.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { AskFirst } from "./AskFirst.tsx";
import { bytes, dayName } from "./words.ts";

async function readFilms(from: Keeper): Promise<{ session: Session; clip: ClipRecord }[]> {
  const sessions = await from.sessions();
  const lists = await Promise.all(
    sessions.map(async (session) => (await from.clips(session.id)).map((clip) => ({ session, clip }))),
  );
  return lists.flat().filter(({ clip }) => clip.filmKept);
}

interface StorageSheetProps {
  keepFilms: boolean;
  change(part: Partial<Settings>): Promise<void>;
}

/** What is kept on this device, and how to free it. */
export function StorageSheet({ keepFilms, change }: StorageSheetProps) {
  const films = useKept(readFilms);
  const [report, setReport] = useState<StorageReport | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [refused, setRefused] = useState(false);
  const look = useCallback(async () => {
    try {
      setReport(await (await keeper()).storage());
    } catch (error) {
      setProblem(sentenceOf(error));
    }
  }, []);
  useEffect(() => {
    if (films.state === "here") void look();
  }, [films, look]);

  const attempt = async (work: (from: Keeper) => Promise<unknown>) => {
    try {
      await work(await keeper());
      setProblem(null);
    } catch (error) {
      setProblem(sentenceOf(error));
    }
    await look();
  };
  return (
    <section className="sheet stack" aria-labelledby="storage">
      <h2 id="storage">On this device</h2>
      {problem && <Note weight="stop">{problem}</Note>}
      {report && (
        <dl className="facts">
          <div>
            <dt>Films</dt>
            <dd>{report.films === 0 ? "none" : `${report.films}, ${bytes(report.filmBytes)}`}</dd>
          </div>
          {report.usedBytes !== null && report.quotaBytes !== null && (
            <div>
              <dt>Used in all</dt>
              <dd>
                {bytes(report.usedBytes)} of {bytes(report.quotaBytes)}
              </dd>
            </div>
          )}
          <div>
            <dt>Kept for good</dt>
            <dd>{report.persistent ? "yes" : "not promised"}</dd>
          </div>
        </dl>
      )}
      {report && !report.persistent && (
        <>
          <p className="soft small">
            The browser may clear this data when the device runs out of room. It can be asked not to.
          </p>
          <button
            type="button"
            className="button"
            onClick={() => attempt(async (from) => setRefused(!(await from.requestPersistence())))}
          >
            Ask the browser to keep it
          </button>
          {refused && (
            <Note weight="warn">
              The browser did not promise it. Adding this page to the home screen often helps; a backup always
              does.
            </Note>
          )}
        </>
      )}
      <label className="kennel-check">
        <input
          type="checkbox"
          checked={keepFilms}
          onChange={(event) => change({ keepFilms: event.target.checked })}
        />
        <span>
          Keep films after they were measured
          <span className="soft small">
            Without its film a clip's landings stay, but can't be looked at frame by frame.
          </span>
        </span>
      </label>
      {films.state === "here" && films.value.length > 0 && (
        <details className="fold">
          <summary>Films, one by one</summary>
          {films.value.length > 1 && (
            <AskFirst
              warning={`All ${films.value.length} films go from this device; what was measured from them stays. A backup with the films brings them back.`}
              yes="Free them"
              no="Keep the films"
              act={() =>
                attempt(async (from) => {
                  for (const { clip } of films.value) await from.deleteClipBlob(clip.id);
                })
              }
            >
              Free all {films.value.length} films
            </AskFirst>
          )}
          <ul className="stack-tight">
            {films.value.map(({ session, clip }) => (
              <li key={clip.id} className="line-apart">
                <span>
                  {session.dogName || "No dog named"}, {dayName(session.date)}
                  <span className="soft small">
                    {" "}
                    {clip.fileName} · {bytes(clip.sizeBytes)}
                  </span>
                </span>
                <button
                  type="button"
                  className="button button-quiet"
                  aria-label={`Free the film ${clip.fileName} of ${session.dogName || "no dog"}, ${dayName(session.date)}`}
                  onClick={() => attempt((from) => from.deleteClipBlob(clip.id))}
                >
                  Free
                </button>
              </li>
            ))}
          </ul>
        </details>
      )}
      <AskFirst
        quiet
        warning="All dogs, sessions, films and settings on this device go, and can't be had back."
        yes="Delete everything"
        no="Keep everything"
        act={() => attempt((from) => from.deleteEverything())}
      >
        <Icon name="bin" /> Delete everything
      </AskFirst>
    </section>
  );
}
