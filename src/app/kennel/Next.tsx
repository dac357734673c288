import { spacingNumber } from "../../charts/layout-plan.ts";
import { aims } from "../../spacing/aims.ts";
import { ladder, nextLayout } from "../../spacing/next.ts";
import type { Judgement, Layout } from "../../spacing/types.ts";
import type { Dog, Session, Units } from "../../store/types.ts";
import { length, unitName } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { verdictName } from "../verdict/names.ts";
import type { KnownStep } from "./own-step.ts";
import { dayName } from "./words.ts";

export type JudgedRow = Session & { judgement: Judgement; layout: Layout };

interface NextProps {
  dog: Dog;
  session: JudgedRow;
  /** Its step over bare ground at this gait, where it was measured. */
  known: KnownStep | null;
  units: Units;
  onPlan(layout: Layout, reasons: string[], fromSessionId: string): void;
}

/** The row that follows from the last session's verdict, one tap away. */
export function NextRow({ dog, session, known, units, onPlan }: NextProps) {
  if (session.gait !== dog.gait) {
    return (
      <Note>
        The last session was at a {session.gait}; it says nothing about the spacing for a {dog.gait}.
      </Note>
    );
  }
  const { layout, reasons } = nextLayout(session.judgement, session.layout, dog.aim, {
    gait: dog.gait,
    measures: dog.measures,
    units,
    ownStepM: known?.natural.stepM.value,
    hold: holdOf(session),
  });
  const taken = dog.plan?.fromSessionId === session.id;
  const same = sameRow(layout, session.layout);
  return (
    <section className="sheet stack" aria-labelledby="next">
      <h2 id="next">After {dayName(session.date)}</h2>
      <p>
        <strong className="kennel-verdict kennel-inline">
          {verdictName[session.judgement.verdict.kind]}.
        </strong>{" "}
        {session.judgement.verdict.sentence}
      </p>
      {!same && (
        <p className="kennel-number">
          {gapsText(session.layout, units)} → {gapsText(layout, units)} {unitName[units]}
          {highest(layout) !== highest(session.layout) && (
            <span className="small">
              , height {length(highest(session.layout), units)} → {length(highest(layout), units)}
            </span>
          )}
        </p>
      )}
      <ul className="kennel-reasons">
        {reasons.map((reason) => (
          <li key={reason}>{reason}</li>
        ))}
      </ul>
      {taken ? (
        <p className="kennel-taken soft small">
          <Icon name="check" size={18} /> This is the row planned below, unless you changed it since.
        </p>
      ) : (
        <button
          type="button"
          className="button button-go"
          onClick={() => onPlan(layout, reasons, session.id)}
        >
          <Icon name="poles" /> {same ? "Same row again" : "Take this row"}
        </button>
      )}
    </section>
  );
}

/** What was written down after a session and speaks against a harder row. */
function holdOf({ howDogFelt, knocksSeen }: JudgedRow): string | undefined {
  if (howDogFelt === "sore" || howDogFelt === "unwilling") {
    return `It was ${howDogFelt}: nothing is made harder. Leave the poles until it is itself again; if it is not by the next day, ask the veterinarian.`;
  }
  if (knocksSeen !== null && knocksSeen > 0) {
    const knocks = knocksSeen === 1 ? "1 knock was" : `${knocksSeen} knocks were`;
    return `${knocks} counted: same row until three passes in a row are free of knocks.`;
  }
  return howDogFelt === "tired" ? "It was tired: same row, until it goes through it fresh." : undefined;
}

interface LadderProps {
  dog: Dog;
  session: JudgedRow | undefined;
  known: KnownStep | null;
  units: Units;
}

/** The rungs from where the aim begins to where it leads, for this dog's own step. */
export function Ladder({ dog, session, known, units }: LadderProps) {
  const shown = session?.gait === dog.gait ? session.judgement : undefined;
  const stepM = known?.natural.stepM.value ?? shown?.ownStep?.approachStepM.value ?? shown?.stepM?.value;
  if (stepM === undefined) return null;
  const rungs = ladder(stepM, dog.aim, units);
  if (rungs.length < 2) return null;
  const gaps = dog.plan?.layout.gapsM ?? [];
  const nowM = gaps.reduce((sum, gap) => sum + gap, 0) / Math.max(1, gaps.length);
  const nearest = rungs.reduce((best, rung) =>
    Math.abs(rung.spacingM - nowM) < Math.abs(best.spacingM - nowM) ? rung : best,
  );
  return (
    <section className="sheet stack-tight" aria-labelledby="ladder">
      <h2 id="ladder">The way to the aim</h2>
      <p className="small soft">
        {aims[dog.aim].name}, from {known ? "its step over bare ground" : "its own step"} of{" "}
        {length(stepM, units, 1)}. One rung at a time, and only from a row that fits; a step back is no
        failure.
      </p>
      <ol className="kennel-ladder">
        {rungs.map((rung) => (
          <li key={rung.share} aria-current={gaps.length > 0 && rung === nearest ? "step" : undefined}>
            <strong>{length(rung.spacingM, units, units === "in" ? 1 : 0)}</strong>
            <span className="soft small">{Math.round(rung.share * 100)} % of its step</span>
            {gaps.length > 0 && rung === nearest && (
              <span className="kennel-tag kennel-tag-good">about here</span>
            )}
          </li>
        ))}
      </ol>
    </section>
  );
}

function sameRow(a: Layout, b: Layout): boolean {
  const same = (x: readonly number[], y: readonly number[]) =>
    x.length === y.length && x.every((value, i) => Math.abs(value - (y[i] ?? 0)) < 0.003);
  return same(a.gapsM, b.gapsM) && same(a.heightsM, b.heightsM);
}

function gapsText(layout: Layout, units: Units): string {
  const texts = layout.gapsM.map((gap) => spacingNumber(gap, units));
  return new Set(texts).size === 1 ? (texts[0] ?? "") : texts.join(" · ");
}

function highest(layout: Layout): number {
  return Math.max(...layout.heightsM);
}
