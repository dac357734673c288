/** Ends an analysis with a sentence for the person: what is wrong and what to do. */
export class AnalysisError extends Error {
  override name = "AnalysisError";
  constructor(
    readonly kind: "clip" | "poles" | "too-short" | "too-long" | "network" | "cancelled" | "inside",
    message: string,
  ) {
    super(message);
  }
}
