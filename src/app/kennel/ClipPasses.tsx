import { useState } from "react";
import { Link } from "wouter";
import { countedHind } from "../../spacing/row-reading.ts";
import type { PassDecision, PassJudgement } from "../../spacing/types.ts";
import { type ClipRecord, passesOf, type Units } from "../../store/types.ts";
import { length } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";
import { bytes } from "./words.ts";

interface ClipPassesProps {
  clip: ClipRecord;
  /** What the session's judgement, or its natural step, says of passes. */
  judged: readonly PassJudgement[];
  /** Marks on bare ground instead of poles. */
  bareGround: boolean;
  units: Units;
  onChoice(passId: string, choice: PassDecision | null): void;
  onDelete(): void;
}

/** One clip of a session, with each of its passes counted or set aside, and why. */
export function ClipPasses({ clip, judged, bareGround, units, onChoice, onDelete }: ClipPassesProps) {
  const [asking, setAsking] = useState(false);
  const passes = passesOf(clip);
  const place = passes.length > 0 ? "verdict" : clip.marks ? "poles" : "film";
  return (
    <article className="sheet stack-tight" aria-label={`Clip ${clip.fileName}`}>
      <div className="line-apart">
        <span>
          <strong className="kennel-file-name">{clip.fileName}</strong>
          <span className="soft small kennel-block">
            {clip.filmKept
              ? `film kept, ${bytes(clip.sizeBytes)}`
              : "film not on this device; its landings are"}
          </span>
        </span>
        <Link href={`/clip/${clip.id}/${place}`} className="button">
          Open
        </Link>
      </div>
      {passes.length === 0 ? (
        <p className="soft small">Not measured yet.</p>
      ) : (
        <ul className="kennel-passes">
          {passes.map((pass, i) => (
            <PassLine
              key={pass.id}
              number={i + 1}
              speedMps={pass.speedMps}
              direction={pass.direction}
              judged={judged.find((one) => one.passId === pass.id || one.passId === `${clip.id}/${pass.id}`)}
              bareGround={bareGround}
              choice={clip.passChoices[pass.id]}
              units={units}
              onChoice={(choice) => onChoice(pass.id, choice)}
            />
          ))}
        </ul>
      )}
      {asking ? (
        <div className="kennel-answers">
          <button type="button" className="button button-stop" onClick={onDelete}>
            Delete the clip and its landings
          </button>
          <button type="button" className="button" onClick={() => setAsking(false)}>
            Keep it
          </button>
        </div>
      ) : (
        <button
          type="button"
          className="button button-quiet"
          aria-label={`Delete the clip ${clip.fileName}`}
          onClick={() => setAsking(true)}
        >
          <Icon name="bin" /> Delete
        </button>
      )}
    </article>
  );
}

/** Why a practitioner leaves a pass out, or keeps one in that the program would leave out. */
const reasonsAgainst = [
  "Looked away",
  "Pulled on the lead",
  "Stopped or turned",
  "Too fast or too slow",
  "Poles had moved",
];
const reasonsFor = ["Its usual speed", "Looked steady to me", "The only pass there is"];

interface PassLineProps {
  number: number;
  speedMps: number;
  direction: 1 | -1;
  judged: PassJudgement | undefined;
  bareGround: boolean;
  choice: PassDecision | undefined;
  units: Units;
  onChoice(choice: PassDecision | null): void;
}

function PassLine({
  number,
  speedMps,
  direction,
  judged,
  bareGround,
  choice,
  units,
  onChoice,
}: PassLineProps) {
  const byHand = choice?.use === false;
  const counts = judged?.used === true;
  const despite = counts ? (judged.keptDespite ?? null) : null;
  const step = judged?.stepM;
  return (
    <li className="kennel-pass" data-counts={counts}>
      <div className="line-apart">
        <span>
          <strong>Pass {number}</strong>{" "}
          <span className="soft small">
            {direction === 1 ? "first to last" : "last to first"} {bareGround ? "mark" : "pole"} ·{" "}
            {speedMps.toFixed(2)} m/s
            {step && ` · step ${length(step.value, units, 1)}`}
          </span>
        </span>
        <span className={`kennel-tag ${counts && !despite ? "kennel-tag-good" : "kennel-tag-open"}`}>
          {despite ? "kept in by you" : counts ? "counts" : "set aside"}
        </span>
      </div>
      {!counts && (
        <p className="small">
          {byHand ? `By you: ${choice?.reason}` : (judged?.setAside ?? "It was not over this row.")}
        </p>
      )}
      {despite && (
        <p className="small">
          {choice?.reason && `${choice.reason}. `}The program would set it aside: {despite}
        </p>
      )}
      {(byHand || despite) && (
        <button
          type="button"
          className="button"
          aria-label={byHand ? `Let pass ${number} count again` : `Set pass ${number} aside after all`}
          onClick={() => onChoice(null)}
        >
          {byHand ? "Let it count" : "Set it aside after all"}
        </button>
      )}
      {counts && !despite && (
        <Because
          name={`Set pass ${number} aside because`}
          begin="Set aside …"
          reasons={reasonsAgainst}
          onReason={(reason) => onChoice({ use: false, reason })}
        />
      )}
      {!counts && !byHand && canCount(judged, bareGround) && (
        <Because
          name={`Count pass ${number} all the same because`}
          begin="Count it all the same …"
          reasons={reasonsFor}
          onReason={(reason) => onChoice({ use: true, reason })}
        />
      )}
    </li>
  );
}

/** Under two hind landings over the poles, or on bare ground, there is nothing to count. */
function canCount(judged: PassJudgement | undefined, bareGround: boolean): boolean {
  const hind = countedHind(judged?.landings ?? []).filter((one) => bareGround || one.place === "row");
  return hind.length >= 2;
}

interface BecauseProps {
  name: string;
  begin: string;
  reasons: readonly string[];
  onReason(reason: string): void;
}

/** A choice that is made with its reason. */
function Because({ name, begin, reasons, onReason }: BecauseProps) {
  return (
    <label className="field kennel-reason">
      <span className="for-reader-only">{name}</span>
      <select value="" onChange={(event) => onReason(event.target.value)}>
        <option value="" disabled>
          {begin}
        </option>
        {reasons.map((reason) => (
          <option key={reason}>{reason}</option>
        ))}
      </select>
    </label>
  );
}
