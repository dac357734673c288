import { useCallback, useState } from "react";
import { Link, useSearch } from "wouter";
import { aims } from "../../spacing/aims.ts";
import type { AimId, PoleGait, Layout as Row } from "../../spacing/types.ts";
import type { Change, Dog, Keeper, Plan, Units } from "../../store/types.ts";
import { begin, type History, redo, step, undo } from "../history.ts";
import { keeper, sentenceOf, useKept } from "../keeper.ts";
import { Cautions, StepAndStride } from "../shell/Cautions.tsx";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { UndoRedo } from "../shell/UndoRedo.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { aimName } from "../verdict/names.ts";
import { useAhead } from "./ahead.ts";
import { Choice } from "./Choice.tsx";
import { ClearanceGate, isCleared } from "./Clearance.tsx";
import { type JudgedRow, Ladder, NextRow } from "./Next.tsx";
import { NotHere } from "./NotHere.tsx";
import { type KnownStep, newestNaturalStep } from "./own-step.ts";
import { MissingCeiling, RowEditor } from "./RowEditor.tsx";
import type { ScreenParams } from "./routes.tsx";
import { Start } from "./Start.tsx";
import { optionsOf } from "./words.ts";

/** The row that one dog is to meet next: where it begins, how it goes on, and how to lay it. */
export default function Layout({ dogId = "" }: ScreenParams) {
  /** The session to go on from, where the address names one; else the newest. */
  const wanted = new URLSearchParams(useSearch()).get("from");
  const read = useCallback(
    async (from: Keeper) => {
      const [dog, sessions, settings] = await Promise.all([
        from.dog(dogId),
        from.sessions(dogId),
        from.settings(),
      ]);
      // Sessions come newest first; bare ground has no row to go on from.
      const judged = sessions.filter((session): session is JudgedRow =>
        Boolean(session.judgement && session.layout && !session.bareGround),
      );
      const latest = judged.find((session) => session.id === wanted) ?? judged[0];
      const { units } = settings;
      const known = dog ? await newestNaturalStep(from, dogId, dog.gait, units) : null;
      return { dog, latest, known, units };
    },
    [dogId, wanted],
  );
  const kept = useKept(read);
  if (kept.state === "reading") return <Waiting title="Layout" />;
  if (kept.state === "failed") return <NotHere title="Layout" back="/dogs" sentence={kept.sentence} />;
  const { dog, latest, known, units } = kept.value;
  if (!dog) return <NotHere title="No such dog here" back="/dogs" />;
  return <Shown dog={dog} latest={latest} known={known} units={units} />;
}

interface ShownProps {
  dog: Dog;
  /** The session to go on from. */
  latest: JudgedRow | undefined;
  /** Its step over bare ground at its gait, where it was measured. */
  known: KnownStep | null;
  units: Units;
}

function Shown({ dog: kept, latest, known, units }: ShownProps) {
  const [problem, setProblem] = useState<string | null>(null);
  const [dog, change] = useAhead(kept, async (part: Change<Dog>) => {
    try {
      await (await keeper()).changeDog(kept.id, part);
      setProblem(null);
      return true;
    } catch (error) {
      setProblem(sentenceOf(error));
      return false;
    }
  });
  const [history, setHistory] = useState<History<Plan | null>>(() => begin(kept.plan));
  const remember = (next: History<Plan | null>) => {
    setHistory(next);
    return change({ plan: next.now });
  };
  const plan = (layout: Row, reasons: string[], fromSessionId: string | null = null) => {
    const next: Plan = {
      layout,
      gait: dog.gait,
      aim: dog.aim,
      reasons,
      decidedAt: Date.now(),
      fromSessionId,
    };
    return remember(step({ ...history, now: dog.plan }, next, whatChanges(dog.plan?.layout, layout)));
  };

  return (
    <Screen
      title="Layout"
      subtitle={dog.name}
      back={`/dogs/${dog.id}`}
      tools={
        isCleared(dog) && (
          <UndoRedo
            history={history}
            onUndo={() => remember(undo(history))}
            onRedo={() => remember(redo(history))}
          />
        )
      }
      actions={
        isCleared(dog) &&
        dog.plan && (
          <>
            <Link href={`/check/dog/${dog.id}`} className="button button-go">
              <Icon name="film" /> Check a clip
            </Link>
            <Link href="/cord" className="button">
              <Icon name="cord" /> Cord
            </Link>
          </>
        )
      }
    >
      {problem && <Note weight="stop">{problem}</Note>}
      {isCleared(dog) ? (
        <div className="kennel-two">
          <div className="stack">
            <AimSheet dog={dog} change={change} />
            {latest && (
              <NextRow
                dog={dog}
                session={latest}
                known={known}
                units={units}
                onPlan={(layout, reasons, sessionId) => plan(layout, reasons, sessionId)}
              />
            )}
            {!dog.plan && (
              <section className="sheet stack" aria-labelledby="start">
                <h2 id="start">Where to begin</h2>
                <Start
                  dog={dog}
                  known={known}
                  units={units}
                  onPlan={(layout, reasons) => plan(layout, reasons)}
                />
              </section>
            )}
          </div>
          <div className="stack">
            {dog.plan && (
              <>
                <RowEditor
                  layout={dog.plan.layout}
                  gait={dog.gait}
                  aim={dog.aim}
                  measures={dog.measures}
                  units={units}
                  onChange={(layout) => plan(layout, ["Set by hand."], dog.plan?.fromSessionId ?? null)}
                />
                <MissingCeiling gait={dog.gait} measures={dog.measures} />
                <Ladder dog={dog} session={latest} known={known} units={units} />
                <details className="fold">
                  <summary>Begin again from the {known ? "dog's own step" : "body"}</summary>
                  <Start
                    dog={dog}
                    known={known}
                    units={units}
                    onPlan={(layout, reasons) => plan(layout, reasons)}
                  />
                </details>
              </>
            )}
            <StepAndStride />
            <Cautions />
          </div>
        </div>
      ) : (
        <ClearanceGate dog={dog} onClear={(clearance) => change({ clearance })} />
      )}
    </Screen>
  );
}

/** Changes of one kind in a row, such as a length typed digit by digit, are taken back together. */
function whatChanges(before: Row | undefined, after: Row): string | null {
  if (!before) return null;
  const same = (a: readonly number[] = [], b: readonly number[] = []) => String(a) === String(b);
  if (before.gapsM.length !== after.gapsM.length) return "poles";
  if (!same(before.gapsM, after.gapsM)) return "gaps";
  return same(before.heightsM, after.heightsM) ? "angles and targets" : "heights";
}

function AimSheet({ dog, change }: { dog: Dog; change(part: Change<Dog>): Promise<void> }) {
  const aim = aims[dog.aim];
  return (
    <section className="sheet stack" aria-labelledby="aim">
      <h2 id="aim">What for</h2>
      <div className="kennel-pair">
        <label className="field">
          Aim
          <select value={dog.aim} onChange={(event) => change({ aim: event.target.value as AimId })}>
            {optionsOf(aimName).map(({ value, name }) => (
              <option key={value} value={value}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <Choice<PoleGait>
          label="Gait"
          value={dog.gait}
          options={[
            { value: "walk", name: "Walk" },
            { value: "trot", name: "Trot" },
          ]}
          onChange={(gait) => change({ gait })}
        />
      </div>
      <dl className="facts">
        <div>
          <dt>For</dt>
          <dd>{aim.who}</dd>
        </div>
        <div>
          <dt>A good pass</dt>
          <dd>{aim.goodPass}</dd>
        </div>
        <div>
          <dt>Height</dt>
          <dd>{aim.height.rule}</dd>
        </div>
      </dl>
      {!aim.gaits.includes(dog.gait) && (
        <Note weight="warn">
          This aim is for a {aim.gaits.join(" or ")}. Choose that gait, or another aim.
        </Note>
      )}
    </section>
  );
}
