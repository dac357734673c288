import { AnalysisError } from "./failure.ts";
import type { AnalysisProgress, AnalysisRequest, ClipAnalysis } from "./types.ts";
import type { FromWorker, ToWorker } from "./worker-messages.ts";

export interface AnalysisWatch {
  onProgress?: (progress: AnalysisProgress) => void;
  signal?: AbortSignal;
}

/**
 * Analyses a clip in a worker, so that the screen stays free.
 *
 * @throws {AnalysisError} With a sentence for the person; kind "cancelled" when the signal fired.
 */
export function analyseInWorker(request: AnalysisRequest, watch: AnalysisWatch = {}): Promise<ClipAnalysis> {
  return new Promise((resolve, reject) => {
    const worker = new Worker(new URL("./worker.ts", import.meta.url), { type: "module", name: "analysis" });
    const end = (act: () => void) => {
      watch.signal?.removeEventListener("abort", cancel);
      worker.terminate();
      act();
    };
    // A worker that is thrown away cannot hang on to anything: that is the surest cancel there is.
    const cancel = () => end(() => reject(new AnalysisError("cancelled", "The analysis was stopped.")));
    if (watch.signal?.aborted) return cancel();
    watch.signal?.addEventListener("abort", cancel);
    worker.onmessage = ({ data }: MessageEvent<FromWorker>) => {
      if (data.kind === "progress") watch.onProgress?.(data.progress);
      else if (data.kind === "done") end(() => resolve(data.analysis));
      else end(() => reject(new AnalysisError(data.failure, data.sentence)));
    };
    worker.onerror = (event) => {
      event.preventDefault();
      end(() =>
        reject(
          new AnalysisError(
            "inside",
            `The analysis broke off (${event.message || "out of memory?"}). Try a shorter stretch of the clip.`,
          ),
        ),
      );
    };
    worker.postMessage({ kind: "analyse", request } satisfies ToWorker);
  });
}
