import { type ComponentType, lazy, Suspense, useEffect, useState } from "react";
import { Redirect } from "wouter";
import { Bench, BenchContext } from "./bench.ts";
import { FilmContext, useFilmOf } from "./film.ts";
import { keeper, sentenceOf } from "./keeper.ts";
import { Note } from "./shell/Note.tsx";
import { Screen } from "./shell/Screen.tsx";
import { Waiting } from "./shell/Waiting.tsx";

const screens: Record<string, ComponentType> = {
  film: lazy(() => import("./clip/ClipScreen.tsx")),
  poles: lazy(() => import("./poles/PolesScreen.tsx")),
  run: lazy(() => import("./run/RunScreen.tsx")),
  landings: lazy(() => import("./landings/LandingsScreen.tsx")),
  verdict: lazy(() => import("./verdict/VerdictScreen.tsx")),
  report: lazy(() => import("./verdict/ReportStep.tsx")),
};

type Opened = { state: "opening" } | { state: "open"; bench: Bench } | { state: "failed"; sentence: string };

/** The screens of one clip share its bench and its film, which stay open from one screen to the next. */
export default function ClipPath({ clipId, step }: { clipId: string; step: string }) {
  const [opened, setOpened] = useState<Opened>({ state: "opening" });
  useEffect(() => {
    let left = false;
    let bench: Bench | null = null;
    keeper()
      .then((from) => Bench.open(from, clipId))
      .then(
        (made) => {
          bench = made;
          if (left) void made.close();
          else setOpened({ state: "open", bench: made });
        },
        (error) => {
          if (!left) setOpened({ state: "failed", sentence: sentenceOf(error) });
        },
      );
    return () => {
      left = true;
      void bench?.close();
    };
  }, [clipId]);
  const fileName = opened.state === "open" ? opened.bench.get().clip.fileName : null;
  const [film, replaceFilm] = useFilmOf(clipId, fileName);

  if (opened.state === "opening") return <Waiting />;
  if (opened.state === "failed") {
    return (
      <Screen title="No such clip here" back="/">
        <Note weight="stop">{opened.sentence}</Note>
      </Screen>
    );
  }
  const Step = screens[step];
  if (!Step) return <Redirect to={`/clip/${clipId}/film`} replace />;
  return (
    <BenchContext.Provider value={opened.bench}>
      <FilmContext.Provider value={{ film, replaceFilm }}>
        <Suspense fallback={<Waiting />}>
          <Step />
        </Suspense>
      </FilmContext.Provider>
    </BenchContext.Provider>
  );
}
