import { tapeText } from "../../spacing/lengths.ts";
import type { Verdict } from "../../spacing/types.ts";
import type { Units } from "../../store/types.ts";

/** The one number to act on, and what to do with it. */
export function ActOn({ verdict, units, even }: { verdict: Verdict; units: Units; even: boolean }) {
  const act = whatToDo(verdict, units, even);
  return (
    <p className="act-on">
      <span>{act.before}</span>
      <strong>{act.number}</strong>
      {act.after && <span>{act.after}</span>}
    </p>
  );
}

function whatToDo(
  verdict: Verdict,
  units: Units,
  even: boolean,
): { before: string; number: string; after?: string } {
  const { kind, spacingM, moveStartM } = verdict;
  if (kind === "fits-move-start" && moveStartM !== null) {
    return {
      before: `Start ${moveStartM > 0 ? "farther from" : "nearer to"} the first pole by`,
      number: tapeText(Math.abs(moveStartM), units),
      ...(spacingM !== null ? { after: `and keep the poles at ${tapeText(spacingM, units)}` } : {}),
    };
  }
  if (spacingM !== null) {
    const gaps = even ? "" : " on average";
    return kind === "fits"
      ? { before: "Keep them at", number: tapeText(spacingM, units), after: `pole to pole${gaps}` }
      : { before: "Lay them at", number: tapeText(spacingM, units), after: `pole to pole${gaps}` };
  }
  const more = verdict.morePasses;
  if (more) {
    return {
      before: "Film",
      number: more === 1 ? "1 more pass" : `${more} more passes`,
      after: "at one steady speed",
    };
  }
  return { before: "Leave the poles, and", number: "film again", after: "at one steady speed" };
}
