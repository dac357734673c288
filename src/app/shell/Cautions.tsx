import { cautions, generalCautions } from "../../spacing/cautions.ts";
import { Icon } from "./Icon.tsx";

/** What the program must say before anyone acts on a number. */
export function Cautions({ open = false }: { open?: boolean }) {
  return (
    <details className="fold" open={open}>
      <summary>
        <Icon name="warn" /> Before you lay poles
      </summary>
      <ul className="stack-tight cautions">
        {[...generalCautions, cautions.growing.sentence].map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
    </details>
  );
}

export function WhatItCannotSee() {
  return (
    <details className="fold">
      <summary>
        <Icon name="info" /> What this can't see
      </summary>
      <ul className="stack-tight cautions">
        <li>
          A phone from the side: single steps are good to some centimetres, means to less. Look at the
          interval.
        </li>
        <li>
          It sees where feet land, not pain, strength or weight on a leg. Five passes do not show a mild
          lameness.
        </li>
        <li>
          Feet hidden behind a pole, the lead, grass or another leg are guessed less well: doubtful ones are
          marked.
        </li>
        <li>The poles pull a dog's step towards their spacing: steady landings alone can hide a stretch.</li>
      </ul>
    </details>
  );
}

/** The one word with two meanings, explained where it is met first. */
export function StepAndStride() {
  return (
    <details className="fold">
      <summary>
        <Icon name="ruler" /> Step or stride?
      </summary>
      <p>
        Here a <strong>step</strong> is the distance from one hind landing to the next, left and right taking
        turns: one in each gap. A <strong>stride</strong> is from one foot to the same foot again: two steps.
        In pole work “stride length” often means the step; all spacings here go by the step.
      </p>
    </details>
  );
}
