import { useContext, useState } from "react";
import { BenchContext } from "../bench.ts";
import { FilmContext } from "../film.ts";
import { sentenceOf } from "../keeper.ts";
import { Note } from "../shell/Note.tsx";
import { problemText } from "./report.ts";

/** A report of what went wrong, to be read, copied or saved; a picture goes along only when it is asked for. */
export function ProblemReport({ sentence = null }: { sentence?: string | null }) {
  const bench = useContext(BenchContext);
  const film = useContext(FilmContext)?.film;
  const [text, setText] = useState<string | null>(null);
  const [withPicture, setWithPicture] = useState(false);
  const [told, setTold] = useState<string | null>(null);
  const picture = document.querySelector<HTMLCanvasElement>(".stage canvas");

  const write = async () => {
    const state = bench?.get();
    setText(
      await problemText(sentence, {
        facts: film?.state === "open" ? film.film.reader.facts : undefined,
        sizeBytes: state?.clip.sizeBytes,
        mimeType: state?.clip.mimeType,
        poles: state?.marks.now.poles.length,
        range: state?.clip.range,
      }),
    );
  };
  const copy = async () => {
    try {
      await navigator.clipboard.writeText(text ?? "");
      setTold("Copied. Paste it into a message to whoever helps you.");
    } catch (error) {
      setTold(
        `The browser did not let it be copied (${sentenceOf(error)}): mark the text and copy it by hand.`,
      );
    }
  };
  const save = async () => {
    const { problemFile } = await import("./file.ts");
    const file = await problemFile(text ?? "", withPicture ? picture : null);
    const link = document.createElement("a");
    link.href = URL.createObjectURL(file);
    link.download = file.name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
    setTold(`${file.name} is in your downloads.`);
  };
  return (
    <details className="fold" onToggle={(event) => event.currentTarget.open && void write()}>
      <summary>Write a problem report</summary>
      <div className="stack-tight">
        <p className="soft small">
          What the program and this device were at, as text. No picture, no name and no note is in it; nothing
          is sent by itself.
        </p>
        <textarea className="problem-text" readOnly rows={8} value={text ?? ""} aria-label="Problem report" />
        {picture && (
          <label className="kennel-check">
            <input
              type="checkbox"
              checked={withPicture}
              onChange={(event) => setWithPicture(event.target.checked)}
            />
            <span>
              Save it with the picture on this screen
              <span className="soft small">It shows whoever is in it.</span>
            </span>
          </label>
        )}
        <div className="choose-pair">
          <button type="button" className="button" onClick={() => void copy()}>
            Copy
          </button>
          <button type="button" className="button" onClick={() => void save()}>
            Save
          </button>
        </div>
        {told && <Note>{told}</Note>}
      </div>
    </details>
  );
}
