import type { Pass } from "../gait/types.ts";
import { scaleStandardError } from "../ground/quality.ts";
import { judge } from "../spacing/judge.ts";
import { type NaturalStep, readNaturalStep } from "../spacing/natural-step.ts";
import type { Judgement, Layout, PassDecision } from "../spacing/types.ts";
import { type ClipRecord, type Dog, passesOf, type Session, type Units } from "../store/types.ts";

/** The passes of a session from all its clips, with the poles knocked in them and what was decided about them. */
export interface SessionPasses {
  passes: Pass[];
  knocks: Record<string, number[]>;
  decisions: Record<string, PassDecision>;
  /** How far the poles lay from their laid places, by pass. */
  movedM: Record<string, number[]>;
  /** How well each pass's camera knows lengths along the row, as a share. */
  scaleSe: Record<string, number>;
  /** Clips filmed over another row than the session's: their passes are left out. */
  otherRow: ClipRecord[];
}

/** Gaps that differ by less than a tape shows are the same row. */
const sameGapM = 0.004;

/**
 * Gathers the passes of all clips of a session over one row; over bare ground (no row) of all its clips. With several
 * clips, ids get the clip's id in front, so that each is unique within the session.
 */
export function gatherPasses(clips: readonly ClipRecord[], layout: Layout | null): SessionPasses {
  const gathered: SessionPasses = {
    passes: [],
    knocks: {},
    movedM: {},
    scaleSe: {},
    decisions: {},
    otherRow: [],
  };
  const measured = clips.filter((clip) => passesOf(clip).length > 0);
  for (const clip of measured) {
    // The row that the landings were measured with, which marks changed since do not alter.
    const gapsM = (clip.analysis?.marks ?? clip.marks)?.gapsM;
    if (layout && gapsM && !sameRow(gapsM, layout.gapsM)) {
      gathered.otherRow.push(clip);
      continue;
    }
    const map = clip.analysis?.ground.map;
    const scaleSe = map ? scaleStandardError(map) : 0;
    const own = (id: string) => (measured.length > 1 ? `${clip.id}/${id}` : id);
    for (const pass of passesOf(clip)) {
      gathered.passes.push({
        ...pass,
        id: own(pass.id),
        landings: pass.landings.map((landing) => ({ ...landing, id: own(landing.id) })),
      });
      gathered.scaleSe[own(pass.id)] = scaleSe;
      const knocked = clip.analysis?.knocks[pass.id];
      if (knocked) gathered.knocks[own(pass.id)] = knocked;
      const decided = clip.passChoices[pass.id];
      if (decided) gathered.decisions[own(pass.id)] = decided;
      const moved = clip.analysis?.poles?.movedM[pass.id];
      if (moved) gathered.movedM[own(pass.id)] = moved;
    }
  }
  return gathered;
}

/** What a session over bare ground says of the dog's own step. */
export function naturalStepOf(
  { gait }: Pick<Session, "gait">,
  clips: readonly ClipRecord[],
  units: Units,
): NaturalStep {
  const { passes, decisions, scaleSe } = gatherPasses(clips, null);
  return readNaturalStep({ passes, gait, decisions, scaleSe, units });
}

/** The judgement of a session; null while it has no row, or where there were no poles. */
export function judgeSession(
  session: Pick<Session, "layout" | "aim" | "gait" | "bareGround">,
  clips: readonly ClipRecord[],
  dog: Dog | null,
  units: Units,
): (SessionPasses & { judgement: Judgement }) | null {
  if (!session.layout || session.bareGround) return null;
  const gathered = gatherPasses(clips, session.layout);
  const judgement = judge({
    layout: session.layout,
    passes: gathered.passes,
    aim: session.aim,
    gait: session.gait,
    knocks: gathered.knocks,
    decisions: gathered.decisions,
    movedM: gathered.movedM,
    scaleSe: gathered.scaleSe,
    bodyLengthM: dog?.measures.bodyLengthM ?? undefined,
    units,
  });
  return { ...gathered, judgement };
}

/** True where the poles were marked anew after the landings had been found. */
export function marksChanged(clip: ClipRecord): boolean {
  const { analysis, marks } = clip;
  return analysis !== null && marks !== null && JSON.stringify(analysis.marks) !== JSON.stringify(marks);
}

export { BY_HAND as byHand } from "../pipeline/types.ts";

function sameRow(a: readonly number[], b: readonly number[]): boolean {
  return a.length === b.length && a.every((gap, k) => Math.abs(gap - (b[k] ?? 0)) < sameGapM);
}
