import { Link } from "wouter";
import type { VerdictKind } from "../../spacing/types.ts";
import type { ClipRecord, Dog, Session } from "../../store/types.ts";
import { Icon } from "../shell/Icon.tsx";
import { verdictName } from "../verdict/names.ts";

const day = new Intl.DateTimeFormat(undefined, { weekday: "short", day: "numeric", month: "short" });

const verdictTone: Record<VerdictKind, string> = {
  fits: "good",
  "fits-move-start": "good",
  "too-close": "move",
  "too-far": "move",
  "two-steps": "move",
  "stepped-over": "move",
  "not-steady": "open",
  "cannot-tell": "open",
};

/** Where work on a session goes on. */
function placeOf(session: Session, clips: ClipRecord[], brokenOff: ReadonlySet<string>): string {
  const stopped = clips.find((one) => brokenOff.has(one.id));
  if (stopped) return `/clip/${stopped.id}/run`;
  const clip = clips.find((one) => one.analysis) ?? clips.find((one) => one.marks) ?? clips[0];
  if (!clip) return `/sessions/${session.id}`;
  if (clip.analysis || clip.editedPasses) return `/clip/${clip.id}/verdict`;
  return `/clip/${clip.id}/${clip.marks ? "poles" : "film"}`;
}

interface SessionRowProps {
  session: Session;
  clips: ClipRecord[];
  /** Clips whose analysis was broken off. */
  brokenOff: ReadonlySet<string>;
}

export function SessionRow({ session, clips, brokenOff }: SessionRowProps) {
  const kind = session.bareGround ? undefined : session.judgement?.verdict.kind;
  return (
    <li>
      <Link href={placeOf(session, clips, brokenOff)} className="row">
        <span className="row-main">
          <strong>{session.dogName || "No dog named"}</strong>
          <span className="soft small">
            {day.format(session.date)} · {session.gait} ·{" "}
            {clips.length === 1 ? "1 clip" : `${clips.length} clips`}
          </span>
        </span>
        <span className={`tag tag-${kind ? verdictTone[kind] : "open"}`}>
          {kind
            ? verdictName[kind]
            : session.bareGround
              ? "natural step"
              : clips.length === 0
                ? "written down"
                : clips.some((clip) => clip.marks)
                  ? "poles marked"
                  : "begun"}
        </span>
        <Icon name="next" />
      </Link>
    </li>
  );
}

export function DogRow({ dog }: { dog: Dog }) {
  return (
    <li>
      <Link href={`/dogs/${dog.id}`} className="row">
        {dog.photo ? (
          <img className="row-face" src={dog.photo} alt="" width={44} height={44} />
        ) : (
          <span className="row-face" aria-hidden="true">
            {dog.letters}
          </span>
        )}
        <span className="row-main">
          <strong>{dog.name}</strong>
          <span className="soft small">{dog.gait}s through poles</span>
        </span>
        <Icon name="next" />
      </Link>
    </li>
  );
}
