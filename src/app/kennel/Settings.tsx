import { useState } from "react";
import type { Keeper, Settings as Kept, Units } from "../../store/types.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { OfflineSheet } from "../offline/OfflineSheet.tsx";
import { ProblemReport } from "../problem/ProblemReport.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { useAhead } from "./ahead.ts";
import { BackupSheet } from "./BackupSheet.tsx";
import { Choice } from "./Choice.tsx";
import { smallLogo } from "./photo.ts";
import { StorageSheet } from "./StorageSheet.tsx";

async function readSettings(from: Keeper) {
  const [settings, dogs, sessions] = await Promise.all([from.settings(), from.dogs(), from.sessions()]);
  return { settings, dogCount: dogs.length, sessionCount: sessions.length, lasting: from.lasting };
}

export default function Settings() {
  const kept = useKept(readSettings);
  return (
    <Screen title="Settings" back="/">
      {kept.state === "failed" && <Note weight="stop">{kept.sentence}</Note>}
      {kept.state === "here" && <Shown {...kept.value} />}
    </Screen>
  );
}

function Shown({
  settings: kept,
  dogCount,
  sessionCount,
  lasting,
}: Awaited<ReturnType<typeof readSettings>>) {
  const [problem, setProblem] = useState<string | null>(null);
  const [settings, change] = useAhead(kept, async (part: Partial<Kept>) => {
    try {
      await (await keeper()).putSettings(part);
      setProblem(null);
      return true;
    } catch (error) {
      setProblem(sentenceOf(error));
      return false;
    }
  });
  return (
    <>
      {problem && <Note weight="stop">{problem}</Note>}
      {!lasting && (
        <Note weight="warn">
          This browser keeps nothing after the page is closed (a private window, or storage is blocked). Make
          a backup before you close it.
        </Note>
      )}
      <section className="sheet stack" aria-label="Units">
        <Choice<Units>
          label="Lengths in"
          value={settings.units}
          options={[
            { value: "cm", name: "Centimetres" },
            { value: "in", name: "Inches" },
          ]}
          onChange={(units) => change({ units })}
        />
      </section>
      <Practice settings={settings} change={change} onProblem={setProblem} />
      <BackupSheet lastBackupAt={settings.lastBackupAt} records={dogCount + sessionCount} />
      <OfflineSheet />
      <StorageSheet keepFilms={settings.keepFilms} change={change} />
      <ProblemReport />
    </>
  );
}

interface PracticeProps {
  settings: Kept;
  change(part: Partial<Kept>): Promise<void>;
  onProblem(sentence: string | null): void;
}

/** Who signs the report. Texts are kept when the field is left. */
function Practice({ settings, change, onProblem }: PracticeProps) {
  const chooseLogo = async (input: HTMLInputElement) => {
    const file = input.files?.[0];
    input.value = "";
    if (!file) return;
    try {
      await change({ logo: await smallLogo(file) });
    } catch (error) {
      onProblem(sentenceOf(error));
    }
  };
  return (
    <section className="sheet stack" aria-labelledby="report-head">
      <h2 id="report-head">On the report</h2>
      <label className="field">
        Your name
        <input
          defaultValue={settings.practitioner}
          maxLength={120}
          autoComplete="name"
          onBlur={(event) => change({ practitioner: event.target.value.trim() })}
        />
      </label>
      <label className="field">
        Practice
        <input
          defaultValue={settings.practice}
          maxLength={120}
          autoComplete="organization"
          onBlur={(event) => change({ practice: event.target.value.trim() })}
        />
      </label>
      <div className="line">
        {settings.logo && <img className="kennel-logo" src={settings.logo} alt="Your logo" />}
        <label className="button kennel-file">
          {settings.logo ? "Other logo" : "Add a logo"}
          <input type="file" accept="image/*" onChange={(event) => chooseLogo(event.currentTarget)} />
        </label>
        {settings.logo && (
          <button type="button" className="button button-quiet" onClick={() => change({ logo: null })}>
            No logo
          </button>
        )}
      </div>
    </section>
  );
}
