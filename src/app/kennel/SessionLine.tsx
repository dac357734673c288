import { Link } from "wouter";
import { spacingNumber } from "../../charts/layout-plan.ts";
import type { VerdictKind } from "../../spacing/types.ts";
import type { Session, Units } from "../../store/types.ts";
import { Icon } from "../shell/Icon.tsx";
import { verdictName } from "../verdict/names.ts";
import { dayName } from "./words.ts";

const tones: Record<VerdictKind, "good" | "move" | "open"> = {
  fits: "good",
  "fits-move-start": "good",
  "too-close": "move",
  "too-far": "move",
  "two-steps": "move",
  "stepped-over": "move",
  "not-steady": "open",
  "cannot-tell": "open",
};

/** One session in a list; with the dog's name where the list holds several dogs. */
export function SessionLine({ session, units, named }: { session: Session; units: Units; named?: boolean }) {
  const kind = session.bareGround ? undefined : session.judgement?.verdict.kind;
  const gap = session.bareGround ? undefined : session.layout?.gapsM[0];
  return (
    <li>
      <Link href={`/sessions/${session.id}`} className="kennel-row">
        <span className="kennel-row-main">
          <strong>{named ? session.dogName || "No dog named" : dayName(session.date)}</strong>
          <span className="soft small">
            {named && `${dayName(session.date)} · `}
            {session.gait} · {gap === undefined ? "bare ground" : `${spacingNumber(gap, units)} ${units}`}
          </span>
        </span>
        <span className={`kennel-tag kennel-tag-${kind ? tones[kind] : "open"}`}>
          {kind ? verdictName[kind] : session.bareGround ? "natural step" : "no verdict"}
        </span>
        <Icon name="next" />
      </Link>
    </li>
  );
}
