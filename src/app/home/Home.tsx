import { useCallback } from "react";
import { Link } from "wouter";
import type { Keeper } from "../../store/types.ts";
import { useKept } from "../keeper.ts";
import { ExampleButton } from "../kennel/ExampleButton.tsx";
import { Cautions } from "../shell/Cautions.tsx";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { ChooseClip } from "./ChooseClip.tsx";
import "./home.css";
import { DogRow, SessionRow } from "./rows.tsx";
import { useBrokenOff } from "./useBrokenOff.ts";

/** Served as it is: the tab, the installed app and this screen share it. */
const mark = "./mark.svg";

const newest = 5;

async function readHome(keeper: Keeper) {
  const [dogs, sessions] = await Promise.all([keeper.dogs(), keeper.sessions()]);
  const recent = await Promise.all(
    sessions.slice(0, newest).map(async (session) => ({ session, clips: await keeper.clips(session.id) })),
  );
  return { dogs, recent, sessionCount: sessions.length, lasting: keeper.lasting };
}

interface HomeProps {
  /** The next clip is of this dog. */
  dogId?: string | undefined;
  /** The next clip goes to this session. */
  sessionId?: string | undefined;
}

export function Home({ dogId, sessionId }: HomeProps) {
  const kept = useKept(readHome);
  const chosen = useKept(
    useCallback(
      async (keeper: Keeper) => {
        if (sessionId) return (await keeper.session(sessionId))?.dogName || "this session";
        return dogId ? ((await keeper.dog(dogId))?.name ?? null) : null;
      },
      [dogId, sessionId],
    ),
  );
  const brokenOff = useBrokenOff();
  const forWhom = chosen.state === "here" ? chosen.value : null;
  return (
    <Screen
      title="Pawgap"
      back={dogId || sessionId ? "/" : undefined}
      tools={
        <Link href="/settings" className="button button-quiet button-icon" aria-label="Settings">
          <Icon name="gear" />
        </Link>
      }
    >
      <section className="hero">
        <img src={mark} alt="" width={72} height={72} />
        <h2>Do the poles fit this dog's stride?</h2>
        <p className="soft">
          Film a pass from the side, tap the poles, and read where each hind foot lands and how far to move
          the poles. Nothing leaves this device.
        </p>
      </section>
      {forWhom && (
        <Note>
          The next clip is for <strong>{forWhom}</strong>.
        </Note>
      )}
      <ChooseClip dogId={dogId} sessionId={sessionId} />
      {kept.state === "failed" && <Note weight="stop">{kept.sentence}</Note>}
      {kept.state === "here" && !kept.value.lasting && (
        <Note weight="warn">
          This browser keeps nothing after the page is closed (a private window, or storage is blocked).
          Export what you need before you close it, or open this page in an ordinary window.
        </Note>
      )}
      {kept.state === "here" && (
        <div className="home-lists">
          <section className="stack-tight" aria-labelledby="home-sessions">
            <div className="line-apart">
              <h2 id="home-sessions">Sessions</h2>
              {kept.value.sessionCount > newest && (
                <Link href="/sessions">All {kept.value.sessionCount}</Link>
              )}
            </div>
            {kept.value.recent.length === 0 ? (
              <p className="soft">None yet. Your first clip starts one.</p>
            ) : (
              <ul className="rows">
                {kept.value.recent.map(({ session, clips }) => (
                  <SessionRow key={session.id} session={session} clips={clips} brokenOff={brokenOff} />
                ))}
              </ul>
            )}
          </section>
          <section className="stack-tight" aria-labelledby="home-dogs">
            <div className="line-apart">
              <h2 id="home-dogs">Dogs</h2>
              {kept.value.dogs.length > 0 && <Link href="/dogs">Dogs and layouts</Link>}
            </div>
            {kept.value.dogs.length === 0 ? (
              <p className="soft">
                None yet. A dog is not needed to check a clip; with one you get a first spacing from its body
                and its progress over weeks.
              </p>
            ) : (
              <ul className="rows">
                {kept.value.dogs.map((dog) => (
                  <DogRow key={dog.id} dog={dog} />
                ))}
              </ul>
            )}
            <Link href="/dogs/new" className="button">
              <Icon name="plus" /> Add a dog
            </Link>
            {kept.value.dogs.length === 0 && <ExampleButton />}
          </section>
        </div>
      )}
      <Cautions />
    </Screen>
  );
}
