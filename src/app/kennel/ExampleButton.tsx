import { useState } from "react";
import { keeper, sentenceOf } from "../keeper.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";

/** Puts the invented kennel in, to look around in before there is a dog of one's own. */
export function ExampleButton() {
  const [busy, setBusy] = useState(false);
  const [problem, setProblem] = useState<string | null>(null);
  const add = async () => {
    setBusy(true);
    setProblem(null);
    try {
      const { addExampleKennel } = await import("./examples.ts");
      await addExampleKennel(await keeper());
    } catch (error) {
      setProblem(sentenceOf(error));
      setBusy(false);
    }
  };
  return (
    <>
      <button type="button" className="button" disabled={busy} onClick={add}>
        <Icon name="dog" /> {busy ? "Fetching them …" : "Look around with example dogs"}
      </button>
      {problem && <Note weight="stop">{problem}</Note>}
    </>
  );
}
