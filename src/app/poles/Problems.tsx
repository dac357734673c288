import type { GroundFit } from "../../ground/types.ts";
import { Note } from "../shell/Note.tsx";

interface ProblemsProps {
  fit: GroundFit | null;
  even: boolean;
  missingSpacing: boolean;
}

/** What is wrong with the marks, a sentence each. */
export function Problems({ fit, even, missingSpacing }: ProblemsProps) {
  if (missingSpacing) {
    return <Note weight="warn">Type the spacing of the poles: it is the one length that must be known.</Note>;
  }
  const gapSizes = fit?.problems.filter((one) => one.kind === "gap-size") ?? [];
  const sentences = (fit?.problems ?? [])
    // Of an even row, one sentence on the spacing is enough.
    .filter((one) => !(even && one.kind === "gap-size" && one !== gapSizes[0]))
    // While the first poles are being tapped, the line on the picture already asks for more.
    .filter(
      (one) => one.kind !== "too-few-poles" || (fit?.residuals.length ?? 0) > 0 || one.poles.length > 1,
    );
  return sentences.map((one) => (
    <Note key={one.sentence} weight={one.usable ? "warn" : "stop"}>
      {one.sentence}
    </Note>
  ));
}

/** Poles to point at on the picture. */
export function suspectsOf(fit: GroundFit | null): number[] {
  const pointedAt = fit?.problems.filter((one) => one.kind !== "gap-size").flatMap((one) => one.poles) ?? [];
  return [...(fit?.residuals.filter((one) => one.suspect).map((one) => one.pole) ?? []), ...pointedAt];
}
