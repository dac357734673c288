import { useCallback, useEffect, useRef, useState } from "react";
import { dropProgram, fetchProgram, isProgramKept, PROGRAM_BYTES } from "../../video/extra-program.ts";
import { sentenceOf } from "../keeper.ts";
import { bytes } from "../kennel/words.ts";
import { Note } from "../shell/Note.tsx";
import { type KeptForOffline, lookAtKept } from "./keep.ts";

interface Here extends KeptForOffline {
  decoder: boolean;
}

/** What works without a network, how large it is, and what can be fetched beforehand. */
export function OfflineSheet() {
  const [here, setHere] = useState<Here | null>(null);
  const [done, setDone] = useState<number | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const stop = useRef<AbortController | null>(null);
  const look = useCallback(async () => {
    setHere({ ...(await lookAtKept()), decoder: await isProgramKept() });
  }, []);
  useEffect(() => {
    void look();
    return () => stop.current?.abort();
  }, [look]);

  const attempt = async (work: () => Promise<unknown>) => {
    setProblem(null);
    try {
      await work();
    } catch (error) {
      if (!stop.current?.signal.aborted) {
        setProblem(
          `The decoder could not be fetched: connect to the internet and try again (${sentenceOf(error)}).`,
        );
      }
    }
    setDone(null);
    await look();
  };
  const fetchDecoder = () => {
    stop.current = new AbortController();
    setDone(0);
    return attempt(() => fetchProgram(setDone, stop.current?.signal));
  };
  if (!here) return null;
  return (
    <section className="sheet stack" aria-labelledby="offline">
      <h2 id="offline">Without a network</h2>
      {problem && <Note weight="stop">{problem}</Note>}
      <dl className="facts">
        <div>
          <dt>This program</dt>
          <dd>{here.programBytes === null ? "not kept" : `kept, ${bytes(here.programBytes)}`}</dd>
        </div>
        <div>
          <dt>Extra decoder</dt>
          <dd>
            {here.decoder ? "kept" : "not kept"}, {bytes(PROGRAM_BYTES)}
          </dd>
        </div>
      </dl>
      {here.programBytes === null && (
        <p className="soft small">
          The program, with the network that finds the paws, is kept while you look around; load this page
          again to see it here. A private window keeps nothing.
        </p>
      )}
      <p className="soft small">
        The extra decoder reads films that this browser can't, such as HEVC from many phones on some
        computers. Fetch it where the connection is good if you film where there is none.
      </p>
      {done !== null ? (
        <div className="stack-tight" role="status">
          <progress value={done} max={1} aria-label="Fetching the extra decoder" />
          <button type="button" className="button" onClick={() => stop.current?.abort()}>
            Stop
          </button>
        </div>
      ) : here.decoder ? (
        <button type="button" className="button" onClick={() => attempt(dropProgram)}>
          Free its {bytes(PROGRAM_BYTES)}
        </button>
      ) : (
        <button type="button" className="button" onClick={fetchDecoder}>
          Fetch the extra decoder, {bytes(PROGRAM_BYTES)}
        </button>
      )}
      {here.newerWaits && (
        <Note>
          A newer version is here. It begins when every window of Pawgap has been closed; nothing is
          interrupted before.
        </Note>
      )}
    </section>
  );
}
