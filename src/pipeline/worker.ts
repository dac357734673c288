import { loadPawNetwork } from "../paws/network.ts";
import { analyseClip } from "./clip.ts";
import { AnalysisError } from "./failure.ts";
import type { FromWorker, ToWorker } from "./worker-messages.ts";

const answer = (message: FromWorker) => self.postMessage(message);

self.onmessage = async ({ data }: MessageEvent<ToWorker>) => {
  try {
    const analysis = await analyseClip(data.request, loadPawNetwork, {
      onProgress: (progress) => answer({ kind: "progress", progress }),
    });
    answer({ kind: "done", analysis });
  } catch (error) {
    const known = error instanceof AnalysisError;
    answer({
      kind: "failed",
      failure: known ? error.kind : "inside",
      sentence: known
        ? error.message
        : `Something went wrong inside the analysis: ${error instanceof Error ? error.message : String(error)}`,
    });
  }
};
