import type { AnalysisError } from "./failure.ts";
import type { AnalysisProgress, AnalysisRequest, ClipAnalysis } from "./types.ts";

export interface ToWorker {
  kind: "analyse";
  request: AnalysisRequest;
}

export type FromWorker =
  | { kind: "progress"; progress: AnalysisProgress }
  | { kind: "done"; analysis: ClipAnalysis }
  | { kind: "failed"; failure: AnalysisError["kind"]; sentence: string };
