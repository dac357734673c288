import { createContext, useContext, useSyncExternalStore } from "react";
import type { Pass } from "../gait/types.ts";
import type { PoleMarks } from "../ground/types.ts";
import { analyseInWorker } from "../pipeline/analyse.ts";
import { forgetLooks } from "../pipeline/look-log.ts";
import type { AnalysisProgress, ClipAnalysis } from "../pipeline/types.ts";
import {
  type Change,
  type ClipRecord,
  type Dog,
  type Keeper,
  passesOf,
  type Session,
  type Settings,
} from "../store/types.ts";
import { openWork, type Work } from "../store/work.ts";
import { ClipError } from "../video/types.ts";
import { begin, type History, redo, step, undo } from "./history.ts";
import { sentenceOf } from "./keeper.ts";

export type Run =
  | { state: "none" }
  /** `soFar`: landings told before the end; they may still move or vanish. */
  | { state: "running"; progress: AnalysisProgress; startedAt: number; soFar: Pass[] }
  | { state: "failed"; sentence: string }
  | { state: "cancelled" }
  /** The page was closed or killed before it had ended. */
  | { state: "broken-off" };

/** One clip under work: what is kept of it, what can be undone, and the analysis if one is running. */
export interface BenchState {
  clip: ClipRecord;
  session: Session;
  dog: Dog | null;
  settings: Settings;
  marks: History<PoleMarks>;
  passes: History<Pass[]>;
  run: Run;
  /** Why the last change could not be kept; null while all is well. */
  saveProblem: string | null;
}

interface Changes {
  clip: Change<ClipRecord>;
  session: Change<Session>;
}

const emptyMarks: PoleMarks = { timeS: 0, poles: [], gapsM: [] };
const quietMs = 250;

/** Holds a clip while it is worked on; every change is kept on the device a moment later. */
export class Bench {
  #state: BenchState;
  readonly #keeper: Keeper;
  readonly #work: Work;
  readonly #listeners = new Set<() => void>();
  #timer: ReturnType<typeof setTimeout> | undefined;
  #unsaved: Changes = { clip: {}, session: {} };
  /** Unsaved, and being written at this moment. */
  #jotted: Changes = { clip: {}, session: {} };
  #writing: Promise<void> = Promise.resolve();
  #stop: AbortController | null = null;
  /** An analysis goes on while its person looks at other screens; who comes back finds it here. */
  static readonly #running = new Map<string, Bench>();

  private constructor(keeper: Keeper, work: Work, state: BenchState) {
    this.#keeper = keeper;
    this.#work = work;
    this.#state = state;
  }

  /** Rejects with a sentence when the clip is not on this device. */
  static async open(keeper: Keeper, clipId: string): Promise<Bench> {
    const bench = Bench.#running.get(clipId) ?? (await Bench.#load(keeper, clipId));
    window.addEventListener("pagehide", bench.#keepNow);
    document.addEventListener("visibilitychange", bench.#keepNow);
    return bench;
  }

  static async #load(keeper: Keeper, clipId: string): Promise<Bench> {
    const clip = await keeper.clip(clipId);
    const session = clip && (await keeper.session(clip.sessionId));
    if (!clip || !session) {
      throw new Error(
        "This clip is not on this device. It may have been deleted, or the link is from another device.",
      );
    }
    const dog = session.dogId ? ((await keeper.dog(session.dogId)) ?? null) : null;
    const work = await openWork();
    const brokenOff = (await work.begun()).has(clipId);
    return new Bench(keeper, work, {
      clip,
      session,
      dog,
      settings: await keeper.settings(),
      marks: begin(clip.marks ?? emptyMarks),
      passes: begin(passesOf(clip)),
      run: { state: brokenOff ? "broken-off" : "none" },
      saveProblem: null,
    });
  }

  get = (): BenchState => this.#state;

  subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };

  /**
   * Keeps what is still unsaved and lets go of the window. A running analysis goes on. The film of a measured clip is
   * given up where the settings say so: not before, because its pictures may be read from it until now.
   */
  async close(): Promise<void> {
    window.removeEventListener("pagehide", this.#keepNow);
    document.removeEventListener("visibilitychange", this.#keepNow);
    await this.keep();
    const { settings, clip, run } = this.#state;
    if (!settings.keepFilms && clip.analysis && run.state !== "running") {
      await this.#keeper.deleteClipBlob(clip.id);
    }
  }

  changeClip(change: Change<ClipRecord>): void {
    this.#set({ clip: { ...this.#state.clip, ...change } });
    this.#jot({ clip: change, session: {} });
    this.#keepSoon();
  }

  changeSession(change: Change<Session>): void {
    this.#set({ session: { ...this.#state.session, ...change } });
    this.#jot({ clip: {}, session: change });
    this.#keepSoon();
  }

  async changeSettings(change: Partial<Settings>): Promise<void> {
    this.#set({ settings: { ...this.#state.settings, ...change } });
    await this.#keeper.putSettings(change);
  }

  async chooseDog(dogId: string | null): Promise<void> {
    const dog = dogId ? ((await this.#keeper.dog(dogId)) ?? null) : null;
    this.#set({ dog });
    this.changeSession({
      dogId: dog?.id ?? null,
      dogName: dog?.name ?? "",
      ...(dog ? { gait: dog.plan?.gait ?? dog.gait, aim: dog.plan?.aim ?? dog.aim } : {}),
      ...(dog?.plan && !this.#state.session.layout ? { layout: dog.plan.layout } : {}),
    });
  }

  /** Steps with the same key are undone together. */
  editMarks(next: PoleMarks, key: string | null = null): void {
    this.#setMarks(step(this.#state.marks, next, key));
  }
  undoMarks(): void {
    this.#setMarks(undo(this.#state.marks));
  }
  redoMarks(): void {
    this.#setMarks(redo(this.#state.marks));
  }

  /** Steps with the same key are undone together. */
  editPasses(next: Pass[], key: string | null = null): void {
    this.#setPasses(step(this.#state.passes, next, key));
  }
  undoPasses(): void {
    this.#setPasses(undo(this.#state.passes));
  }
  redoPasses(): void {
    this.#setPasses(redo(this.#state.passes));
  }

  /** Puts an analysis in the place of the last one; landings corrected by hand before can be had back with undo. */
  acceptAnalysis(analysis: ClipAnalysis): void {
    const hadEdits = this.#state.clip.editedPasses !== null;
    this.#set({ passes: hadEdits ? step(this.#state.passes, analysis.passes) : begin(analysis.passes) });
    this.changeClip({ analysis, editedPasses: null, passChoices: {} });
  }

  /**
   * Analyses the clip with the marks as they are. Does nothing while an analysis is running.
   * @param only "camera": follow the camera and the poles alone, for landings that are to be marked by hand.
   */
  async analyse(film: Blob, only: "all" | "camera" = "all"): Promise<void> {
    if (this.#state.run.state === "running") return;
    const { clip, marks } = this.#state;
    const stop = new AbortController();
    this.#stop = stop;
    Bench.#running.set(clip.id, this);
    this.#work.begin(clip.id);
    const startedAt = performance.now();
    let soFar: Pass[] = [];
    const onProgress = (progress: AnalysisProgress) => {
      if (!stop.signal.aborted) this.#set({ run: { state: "running", progress, startedAt, soFar } });
    };
    const onLandings = (passes: Pass[]) => {
      soFar = passes;
    };
    onProgress({ stage: "opening", done: 0, framesDone: 0, framesTotal: 0 });
    try {
      const analysis = await analyseInWorker(
        {
          file: film,
          fileName: clip.fileName,
          marks: marks.now,
          ...(only === "camera" ? { cameraOnly: true } : { logAs: clip.id }),
          ...(clip.range ? { fromS: clip.range[0], toS: clip.range[1] } : {}),
        },
        { onProgress, onLandings, signal: stop.signal },
      );
      this.#set({ run: { state: "none" } });
      this.acceptAnalysis(analysis);
      await this.keep();
      void forgetLooks(clip.id);
    } catch (error) {
      const cancelled = stop.signal.aborted || (error instanceof ClipError && error.kind === "cancelled");
      this.#set({
        run: cancelled ? { state: "cancelled" } : { state: "failed", sentence: sentenceOf(error) },
      });
    } finally {
      this.#stop = null;
      Bench.#running.delete(clip.id);
      this.#work.end(clip.id);
    }
  }

  cancelAnalysis(): void {
    this.#stop?.abort();
  }

  #jot(change: Changes): void {
    for (const held of [this.#unsaved, this.#jotted]) {
      Object.assign(held.clip, change.clip);
      Object.assign(held.session, change.session);
    }
    const { clip, session } = this.#state;
    this.#work.jot({ ...this.#jotted, clipId: clip.id, sessionId: session.id, at: Date.now() });
  }

  /** Writes what is unsaved. Resolves when it is kept or the problem is shown. */
  keep(): Promise<void> {
    clearTimeout(this.#timer);
    const { clip, session } = this.#unsaved;
    this.#unsaved = { clip: {}, session: {} };
    if (isEmpty(clip) && isEmpty(session)) return this.#writing;
    this.#writing = this.#writing.then(async () => {
      try {
        if (!isEmpty(session)) await this.#keeper.changeSession(this.#state.session.id, session);
        if (!isEmpty(clip)) await this.#keeper.changeClip(this.#state.clip.id, clip);
        if (isEmpty(this.#unsaved.clip) && isEmpty(this.#unsaved.session)) {
          this.#jotted = { clip: {}, session: {} };
          this.#work.forget(this.#state.clip.id);
        }
        if (this.#state.saveProblem) this.#set({ saveProblem: null });
      } catch (error) {
        // Tried again with the next change.
        this.#unsaved = {
          clip: { ...clip, ...this.#unsaved.clip },
          session: { ...session, ...this.#unsaved.session },
        };
        this.#set({ saveProblem: sentenceOf(error) });
      }
    });
    return this.#writing;
  }

  #keepNow = () => {
    void this.keep();
  };

  #keepSoon() {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(this.#keepNow, quietMs);
  }

  #setMarks(marks: History<PoleMarks>) {
    this.#set({ marks });
    this.changeClip({ marks: marks.now });
  }

  #setPasses(passes: History<Pass[]>) {
    this.#set({ passes });
    const automatic = this.#state.clip.analysis?.passes;
    this.changeClip({ editedPasses: passes.now === automatic ? null : passes.now });
  }

  #set(change: Partial<BenchState>) {
    this.#state = { ...this.#state, ...change };
    for (const listener of this.#listeners) listener();
  }
}

const isEmpty = (change: object) => Object.keys(change).length === 0;

export const BenchContext = createContext<Bench | null>(null);

/** The bench of the clip in the address, and its state. */
export function useBench(): [BenchState, Bench] {
  const bench = useContext(BenchContext);
  if (!bench) throw new Error("useBench is only for the screens of one clip.");
  return [useSyncExternalStore(bench.subscribe, bench.get), bench];
}
