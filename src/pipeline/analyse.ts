import type { Pass } from "../gait/types.ts";
import { rememberBackend, rememberedBackend } from "../paws/remembered.ts";
import { AnalysisError } from "./failure.ts";
import type { AnalysisProgress, AnalysisRequest, ClipAnalysis } from "./types.ts";
import type { FromWorker, ToWorker } from "./worker-messages.ts";

export interface AnalysisWatch {
  onProgress?: (progress: AnalysisProgress) => void;
  /** What has been found so far, every now and then: more may come, and each may still move. */
  onLandings?: (passes: Pass[]) => void;
  signal?: AbortSignal;
}

/** A worker that says nothing for this long is gone: the system took its memory, or its program hangs. */
const SILENT_MS = 30_000;
/** One that lives but gets no further for this long waits for something that is gone. */
const STUCK_MS = 150_000;

/** A worker that was got ready and not asked within this time is let go, with the memory of its network. */
const READY_MS = 240_000;

let ready: { worker: Worker; timer: ReturnType<typeof setTimeout> } | null = null;

/**
 * Starts the worker of the next analysis and has its network loaded, so that the first look need not wait. Asked again,
 * it only keeps what is ready for longer.
 */
export function getReady(): void {
  if (ready) clearTimeout(ready.timer);
  const worker = ready?.worker ?? startWorker();
  if (!ready) {
    const message: ToWorker = { kind: "get-ready", backend: rememberedBackend() };
    worker.postMessage(message);
    worker.onerror = (event) => {
      event.preventDefault();
      takeReady()?.terminate();
    };
  }
  ready = { worker, timer: setTimeout(() => takeReady()?.terminate(), READY_MS) };
}

function takeReady(): Worker | null {
  if (ready) clearTimeout(ready.timer);
  const worker = ready?.worker ?? null;
  ready = null;
  return worker;
}

function startWorker(): Worker {
  return new Worker(new URL("./worker.ts", import.meta.url), { type: "module", name: "analysis" });
}

/**
 * Analyses a clip in a worker, so that the screen stays free. A worker that dies is started once more; with a log
 * (`request.logAs`) it then goes on where the first one stopped.
 *
 * @throws {AnalysisError} With a sentence for the person; kind "cancelled" when the signal fired.
 */
export async function analyseInWorker(
  request: AnalysisRequest,
  watch: AnalysisWatch = {},
): Promise<ClipAnalysis> {
  try {
    return await analyseOnce(request, watch);
  } catch (error) {
    if (!(error instanceof AnalysisError) || error.kind !== "inside") throw error;
    return analyseOnce(request, watch);
  }
}

function analyseOnce(request: AnalysisRequest, watch: AnalysisWatch): Promise<ClipAnalysis> {
  return new Promise((resolve, reject) => {
    const worker = takeReady() ?? startWorker();
    let heardMs = performance.now();
    let movedMs = heardMs;
    const listening = setInterval(() => {
      const now = performance.now();
      if (now - heardMs > SILENT_MS || now - movedMs > STUCK_MS) {
        end(() => reject(brokeOff("it stopped answering")));
      }
    }, 1000);
    const end = (act: () => void) => {
      clearInterval(listening);
      watch.signal?.removeEventListener("abort", cancel);
      worker.terminate();
      act();
    };
    // A worker that is thrown away cannot hang on to anything: that is the surest cancel there is.
    const cancel = () => end(() => reject(new AnalysisError("cancelled", "The analysis was stopped.")));
    if (watch.signal?.aborted) return cancel();
    watch.signal?.addEventListener("abort", cancel);
    worker.onmessage = ({ data }: MessageEvent<FromWorker>) => {
      heardMs = performance.now();
      if (data.kind !== "alive") movedMs = heardMs;
      if (data.kind === "progress") watch.onProgress?.(data.progress);
      else if (data.kind === "landings") watch.onLandings?.(data.passes);
      else if (data.kind === "done") {
        rememberBackend(data.analysis.backend);
        end(() => resolve(data.analysis));
      } else if (data.kind === "failed") end(() => reject(new AnalysisError(data.failure, data.sentence)));
    };
    worker.onerror = (event) => {
      event.preventDefault();
      end(() => reject(brokeOff(event.message || "out of memory?")));
    };
    worker.postMessage({ kind: "analyse", request, backend: rememberedBackend() } satisfies ToWorker);
  });
}

function brokeOff(why: string): AnalysisError {
  return new AnalysisError(
    "inside",
    `The analysis broke off (${why}). Close other pages and try again, or choose a shorter stretch of the clip.`,
  );
}
