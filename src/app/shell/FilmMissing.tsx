import { useState } from "react";
import { useBench } from "../bench.ts";
import { openFilm, useFilm } from "../film.ts";
import { keeper, sentenceOf } from "../keeper.ts";
import { ProblemReport } from "../problem/ProblemReport.tsx";
import { Icon } from "./Icon.tsx";
import { Note } from "./Note.tsx";

/** In the place of a picture: the film is being opened, can't be, or is no longer on the device. */
export function FilmMissing() {
  const [{ clip }, bench] = useBench();
  const { film, replaceFilm } = useFilm();
  const [problem, setProblem] = useState<string | null>(null);
  if (film.state === "open") return null;
  if (film.state === "opening") {
    return (
      <div className="stack-tight" role="status">
        <p>Opening the clip …</p>
        <progress value={film.done || undefined} max={1} aria-label="Opening the clip" />
      </div>
    );
  }

  const take = async (file: File | undefined) => {
    if (!file) return;
    setProblem(null);
    try {
      const again = await openFilm(file, file.name);
      replaceFilm(again);
      const kept = await keeper();
      await kept.putClipBlob(clip.id, file);
      const { filmKept, sizeBytes, mimeType } = (await kept.clip(clip.id)) ?? clip;
      bench.changeClip({ filmKept, sizeBytes, mimeType });
    } catch (error) {
      setProblem(sentenceOf(error));
    }
  };
  return (
    <div className="stack">
      {film.state === "gone" ? (
        <Note weight="warn">
          The film “{clip.fileName}” is not kept on this device any more. What was measured from it is. To
          look at the picture or measure again, pick the same film.
        </Note>
      ) : (
        <>
          <Note weight="stop">{film.sentence}</Note>
          <ProblemReport sentence={film.sentence} />
        </>
      )}
      {problem && <Note weight="stop">{problem}</Note>}
      <label className="button" style={{ position: "relative" }}>
        <Icon name="film" /> Pick the film
        <input
          type="file"
          accept="video/*,.mkv,.avi,.mov"
          style={{ position: "absolute", inset: 0, opacity: 0 }}
          onChange={(event) => void take(event.currentTarget.files?.[0])}
        />
      </label>
    </div>
  );
}
