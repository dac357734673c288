import { lazy, Suspense, useEffect, useRef, useState } from "react";
import { useLocation } from "wouter";
import { addClip } from "../adding.ts";
import { openFilm, takeInHand } from "../film.ts";
import { keeper, sentenceOf } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { fetchDemo } from "./demo.ts";
import { useDroppedFile } from "./useDroppedFile.ts";

const ProblemReport = lazy(() =>
  import("../problem/ProblemReport.tsx").then((loaded) => ({ default: loaded.ProblemReport })),
);

type Busy =
  | { what: string; done: number | null }
  /** A clip that needs more than the app brought along: may it be fetched? */
  | { megabytes: number; answer: (yes: boolean) => void }
  | null;

interface ChooseClipProps {
  dogId?: string | undefined;
  sessionId?: string | undefined;
}

/** Drop, pick or record a clip, or take the demo clip. A file that is no clip gets its sentence here. */
export function ChooseClip({ dogId, sessionId }: ChooseClipProps) {
  const [, go] = useLocation();
  const [busy, setBusy] = useState<Busy>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const stop = useRef<AbortController | null>(null);
  useEffect(() => () => stop.current?.abort(), []);

  const working = async (work: (signal: AbortSignal) => Promise<string>) => {
    const now = new AbortController();
    stop.current = now;
    setProblem(null);
    try {
      const next = await work(now.signal);
      if (!now.signal.aborted) go(next);
    } catch (error) {
      if (!now.signal.aborted) setProblem(sentenceOf(error));
    } finally {
      if (stop.current === now) setBusy(null);
    }
  };

  const cancel = () => {
    stop.current?.abort();
    setBusy(null);
  };

  const takeFile = (file: File) =>
    working(async (signal) => {
      setBusy({ what: "Opening the clip", done: null });
      const film = await openFilm(
        file,
        file.name,
        (done) => setBusy({ what: "Reading the clip", done }),
        signal,
        (bytes) => new Promise((answer) => setBusy({ megabytes: Math.round(bytes / 1e6), answer })),
      );
      const { clip, filmProblem } = await addClip(
        await keeper(),
        { file, dogId, sessionId },
        ({ bytesDone, bytesTotal }) =>
          setBusy({ what: "Keeping it on this device", done: bytesDone / Math.max(1, bytesTotal) }),
        signal,
      );
      takeInHand(clip.id, film);
      // Asked once there is something to lose; a refusal changes nothing.
      void keeper().then((from) => from.requestPersistence());
      return `/clip/${clip.id}/film${filmProblem ? "?film=not-kept" : ""}`;
    });

  const takeDemo = () =>
    working(async (signal) => {
      setBusy({ what: "Fetching the demo clip", done: null });
      const demo = await fetchDemo(signal);
      const { clip } = await addClip(
        await keeper(),
        { ...demo, dogId, sessionId, example: true },
        undefined,
        signal,
      );
      return `/clip/${clip.id}/run`;
    });

  const over = useDroppedFile((file) => void takeFile(file));

  const onPick = (input: HTMLInputElement) => {
    const file = input.files?.[0];
    // The same file chosen again must count as a choice.
    input.value = "";
    if (file) void takeFile(file);
  };

  return (
    <section className="choose" aria-label="A clip to check">
      {busy && "answer" in busy ? (
        <AskForDecoder megabytes={busy.megabytes} onAnswer={busy.answer} />
      ) : busy ? (
        <div className="choose-drop" role="status">
          <strong>{busy.what} …</strong>
          <progress value={busy.done ?? undefined} max={1} aria-label={busy.what} />
          <button type="button" className="button" onClick={cancel}>
            Cancel
          </button>
        </div>
      ) : (
        <div className="choose-drop" data-over={over}>
          <label className="button button-go choose-big">
            <Icon name="film" size={30} /> Check a clip
            <input
              type="file"
              accept="video/*,.mkv,.avi,.mov"
              onChange={(event) => onPick(event.currentTarget)}
            />
          </label>
          <div className="choose-pair">
            <label className="button">
              <Icon name="camera" /> Film now
              <input
                type="file"
                accept="video/*"
                capture="environment"
                onChange={(event) => onPick(event.currentTarget)}
              />
            </label>
            <button type="button" className="button" onClick={takeDemo}>
              <Icon name="play" /> Try the demo clip
            </button>
          </div>
          <p className="soft small">
            From the side, 3 to 5 m away, at hip height, the whole row in the picture. 60 frames a second or
            more for trot. You can also drop a file here.
          </p>
        </div>
      )}
      {problem && (
        <>
          <Note weight="stop">{problem}</Note>
          <Suspense>
            <ProblemReport sentence={problem} />
          </Suspense>
        </>
      )}
    </section>
  );
}

interface AskForDecoderProps {
  megabytes: number;
  onAnswer(yes: boolean): void;
}

function AskForDecoder({ megabytes, onAnswer }: AskForDecoderProps) {
  return (
    <div className="choose-drop" role="alert">
      <strong>This browser can't decode this clip by itself.</strong>
      <p>
        With the extra decoder it can be read. That is {megabytes} MB, fetched once and kept on this device;
        the clip still goes nowhere.
      </p>
      <div className="choose-pair">
        <button type="button" className="button" onClick={() => onAnswer(false)}>
          Not now
        </button>
        <button type="button" className="button button-go" onClick={() => onAnswer(true)}>
          Fetch {megabytes} MB
        </button>
      </div>
    </div>
  );
}
