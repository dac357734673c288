import type { Pass } from "../gait/types.ts";
import type { BackendName } from "../paws/backend.ts";
import type { AnalysisError } from "./failure.ts";
import type { AnalysisProgress, AnalysisRequest, ClipAnalysis } from "./types.ts";

/** `backend` is the one that was fastest on this device before. */
export type ToWorker =
  /** Load the network ahead of the request. */
  | { kind: "get-ready"; backend?: BackendName | undefined }
  | { kind: "analyse"; request: AnalysisRequest; backend?: BackendName | undefined };

export type FromWorker =
  | { kind: "alive" }
  | { kind: "progress"; progress: AnalysisProgress }
  | { kind: "landings"; passes: Pass[] }
  | { kind: "done"; analysis: ClipAnalysis }
  | { kind: "failed"; failure: AnalysisError["kind"]; sentence: string };

/** How often a worker that can do so says that it is alive. */
export const ALIVE_EVERY_MS = 2000;
