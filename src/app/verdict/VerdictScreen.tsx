import { useCallback } from "react";
import { Link } from "wouter";
import { drawVerdictPicture } from "../../charts/verdict-picture.ts";
import { aims } from "../../spacing/aims.ts";
import { tapeText } from "../../spacing/lengths.ts";
import type { AimId, Judgement, Layout, PoleGait } from "../../spacing/types.ts";
import type { Units } from "../../store/types.ts";
import { useBench } from "../bench.ts";
import type { SessionPasses } from "../judging.ts";
import { Drawn } from "../kennel/Drawn.tsx";
import { againstNatural } from "../kennel/own-step.ts";
import { Cautions, StepAndStride, WhatItCannotSee } from "../shell/Cautions.tsx";
import { MarksChanged, PathOf, SaveProblem, subtitleOf } from "../shell/clip-frame.tsx";
import { GroundChoice } from "../shell/GroundChoice.tsx";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { PawKey } from "../shell/PawShape.tsx";
import { Screen } from "../shell/Screen.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { ActOn } from "./ActOn.tsx";
import { GaitChoice } from "./GaitChoice.tsx";
import { NaturalVerdict } from "./NaturalVerdict.tsx";
import { verdictName } from "./names.ts";
import { useJudgement } from "./useJudgement.ts";
import "./verdict.css";

const hindPaws = ["LH", "RH"] as const;

/** One sentence, one picture, one number to act on; under it the evidence and what to do next time. */
export default function VerdictScreen() {
  const [state, bench] = useBench();
  const { clip, session, dog, settings } = state;
  const judged = useJudgement();

  const frame = {
    title: "Verdict",
    back: `/clip/${clip.id}/landings`,
    subtitle: subtitleOf(state),
    path: <PathOf state={state} current="verdict" />,
  };
  if (judged.state === "reading") return <Waiting title="Verdict" />;
  if (judged.state === "natural") {
    return <NaturalVerdict {...frame} natural={judged.natural} overPoles={judged.overPoles} />;
  }
  if (judged.state === "none" || !session.layout) {
    return (
      <Screen {...frame}>
        <Note weight="stop">
          {judged.state === "none" ? judged.sentence : "This session has no row of poles."}
        </Note>
        <Link href={`/clip/${clip.id}/poles`} className="button">
          Mark the poles
        </Link>
      </Screen>
    );
  }
  const { result } = judged;
  return (
    <Screen
      {...frame}
      actions={
        <>
          <Link href={`/clip/${clip.id}/landings`} className="button">
            Landings
          </Link>
          {dog && (
            <Link href={`/dogs/${dog.id}/layout?from=${session.id}`} className="button">
              Next layout
            </Link>
          )}
          <Link href={`/clip/${clip.id}/report`} className="button button-go">
            Report
          </Link>
        </>
      }
    >
      <SaveProblem state={state} />
      <MarksChanged state={state} />
      <div className="verdict-desk">
        <div className="stack">
          <Answer judgement={result.judgement} layout={session.layout} units={settings.units} />
          <div className="line">
            <Link href={`/check/session/${session.id}`} className="button">
              <Icon name="plus" /> Another clip of this session
            </Link>
            <Link href={`/sessions/${session.id}`} className="button">
              <Icon name="edit" /> Notes on this session
            </Link>
          </div>
        </div>
        <div className="stack">
          <Asked
            gait={session.gait}
            aim={session.aim}
            onGait={(gait) => bench.changeSession({ gait })}
            onAim={(aim) => bench.changeSession({ aim })}
            onBareGround={() => bench.changeSession({ bareGround: true })}
          />
          {session.aim === "one-at-a-time" && !dog?.measures.bodyLengthM && (
            <Note weight="warn">
              This aim goes by the dog's body length, nose to tail base. Choose the dog on the first step of
              this clip, and measure it under Dogs.
            </Note>
          )}
          <Behind
            result={result}
            own={judged.known && againstNatural(result.judgement, judged.known, settings.units)}
          />
          {result.judgement.notes.map((note) => (
            <Note key={note} weight="warn">
              {note}
            </Note>
          ))}
          <StepAndStride />
          <WhatItCannotSee />
          <Cautions open />
        </div>
      </div>
    </Screen>
  );
}

function Answer({ judgement, layout, units }: { judgement: Judgement; layout: Layout; units: Units }) {
  const { verdict } = judgement;
  const draw = useCallback(
    (width: number) =>
      drawVerdictPicture(
        { gapsM: layout.gapsM, targetFractions: layout.targetFractions, judgement },
        { width, units },
      ),
    [layout, judgement, units],
  );
  return (
    <section className="verdict" data-kind={verdict.kind} aria-label="Verdict">
      <p className="verdict-kind">{verdictName[verdict.kind]}</p>
      <h2 className="verdict-sentence">{verdict.sentence}</h2>
      <ActOn verdict={verdict} units={units} even={layout.gapsM.every((gap) => gap === layout.gapsM[0])} />
      <figure className="verdict-picture">
        <Drawn draw={draw} />
        <figcaption>
          <PawKey paws={hindPaws} />
        </figcaption>
      </figure>
      <p className="verdict-evidence">{verdict.evidence}</p>
      {verdict.intervalM &&
        Number.isFinite(verdict.intervalM[0]) &&
        Number.isFinite(verdict.intervalM[1]) && (
          <p className="soft">
            The spacing that fits lies between {tapeText(verdict.intervalM[0], units)} and{" "}
            {tapeText(verdict.intervalM[1], units)} (95 % interval).
          </p>
        )}
      <Note>
        <strong>Next time.</strong> {verdict.nextTime}
      </Note>
    </section>
  );
}

interface AskedProps {
  gait: PoleGait;
  aim: AimId;
  onGait(gait: PoleGait): void;
  onAim(aim: AimId): void;
  onBareGround(): void;
}

/** What the verdict was asked for; another answer is worked out at once. */
function Asked({ gait, aim, onGait, onAim, onBareGround }: AskedProps) {
  return (
    <section className="stack-tight" aria-label="What it is judged for">
      <label className="field">
        Aim
        <select value={aim} onChange={(event) => onAim(event.currentTarget.value as AimId)}>
          {Object.values(aims).map((one) => (
            <option key={one.id} value={one.id}>
              {one.name}: {one.who}
            </option>
          ))}
        </select>
      </label>
      <GaitChoice gait={gait} onGait={onGait} />
      <GroundChoice bareGround={false} onChange={onBareGround} />
      <p className="soft small">A good pass: {aims[aim].goodPass}</p>
    </section>
  );
}

interface BehindProps {
  result: SessionPasses & { judgement: Judgement };
  /** What this step is against the dog's own over bare ground. */
  own: string | null;
}

/** What it rests on, in a few lines. */
function Behind({ result, own }: BehindProps) {
  const { judgement, otherRow } = result;
  const used = judgement.passes.filter((pass) => pass.used);
  const out = judgement.passes.filter((pass) => !pass.used);
  const restsOn = new Set(judgement.verdict.restsOn);
  const between = judgement.passes
    .flatMap((pass) => pass.landings)
    .filter((landing) => landing.place === "row" && restsOn.has(landing.id)).length;
  return (
    <section className="sheet stack-tight" aria-label="What it rests on">
      <h3>
        Rests on {between} hind landings in {used.length === 1 ? "1 pass" : `${used.length} passes`}
      </h3>
      {restsOn.size > between && (
        <p className="small soft">
          and on {restsOn.size - between} just before or after them, for the steps over the first and the last
          pole.
        </p>
      )}
      {out.map((pass) => (
        <p key={pass.passId} className="small soft">
          A pass does not count: {pass.setAside}
        </p>
      ))}
      {otherRow.map((clip) => (
        <p key={clip.id} className="small soft">
          “{clip.fileName}” was filmed over another row and does not count here.
        </p>
      ))}
      {judgement.ownStep && <p>{judgement.ownStep.sentence}</p>}
      {own && <p>{own}</p>}
      {judgement.leftRight && <p>{judgement.leftRight.sentence}</p>}
    </section>
  );
}
