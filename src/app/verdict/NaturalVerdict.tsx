import type { ReactNode } from "react";
import { Link } from "wouter";
import type { NaturalStep } from "../../spacing/natural-step.ts";
import type { Session } from "../../store/types.ts";
import { useBench } from "../bench.ts";
import { NaturalStepSheet } from "../kennel/NaturalStep.tsx";
import { Cautions, StepAndStride, WhatItCannotSee } from "../shell/Cautions.tsx";
import { MarksChanged, SaveProblem } from "../shell/clip-frame.tsx";
import { GroundChoice } from "../shell/GroundChoice.tsx";
import { Icon } from "../shell/Icon.tsx";
import { Screen } from "../shell/Screen.tsx";
import { GaitChoice } from "./GaitChoice.tsx";

interface NaturalVerdictProps {
  title: string;
  back: string;
  subtitle: string;
  path: ReactNode;
  natural: NaturalStep;
  overPoles: Session | undefined;
}

/** Over bare ground there is no row to judge: the answer is the dog's own step. */
export function NaturalVerdict({ natural, overPoles, ...frame }: NaturalVerdictProps) {
  const [state, bench] = useBench();
  const { clip, session, dog, settings } = state;
  const out = natural.passes.filter((pass) => !pass.used);
  return (
    <Screen
      {...frame}
      actions={
        <>
          <Link href={`/clip/${clip.id}/landings`} className="button">
            Landings
          </Link>
          {dog && (
            <Link href={`/dogs/${dog.id}/layout`} className="button">
              Layout
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
          <NaturalStepSheet
            natural={natural}
            gait={session.gait}
            overPoles={overPoles}
            units={settings.units}
          />
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
          <GaitChoice gait={session.gait} onGait={(gait) => bench.changeSession({ gait })} />
          <GroundChoice bareGround onChange={(bareGround) => bench.changeSession({ bareGround })} />
          {out.map((pass) => (
            <p key={pass.passId} className="small soft">
              A pass does not count: {pass.setAside}
            </p>
          ))}
          <StepAndStride />
          <WhatItCannotSee />
          <Cautions open />
        </div>
      </div>
    </Screen>
  );
}
