import type { Pass } from "../../gait/types.ts";
import type { ClipAnalysis } from "../../pipeline/types.ts";
import type { Judgement, Layout } from "../../spacing/types.ts";
import {
  type ClipRecord,
  type Dog,
  type Keeper,
  passesOf,
  type Session,
  type Settings,
} from "../../store/types.ts";
import { judgeSession } from "../judging.ts";

/** One clip of the session with what a report says of it. */
export interface ReportClip {
  record: ClipRecord;
  /** null where every landing was marked by hand and the program never looked at the film. */
  analysis: ClipAnalysis | null;
  /** As found or as edited, with ids that are unique within the session. */
  passes: Pass[];
  /** The verdict over all clips, with the passes of this clip only. */
  judgement: Judgement;
}

/** Everything a report is made of. */
export interface ReportMatter {
  session: Session;
  dog: Dog | null;
  settings: Settings;
  layout: Layout;
  judgement: Judgement;
  clips: ReportClip[];
}

export interface ReportRecords {
  session: Session | undefined;
  dog: Dog | null;
  clips: ClipRecord[];
  settings: Settings;
}

export async function readReportRecords(keeper: Keeper, sessionId: string): Promise<ReportRecords> {
  const [session, clips, settings] = await Promise.all([
    keeper.session(sessionId),
    keeper.clips(sessionId),
    keeper.settings(),
  ]);
  const dog = session?.dogId ? ((await keeper.dog(session.dogId)) ?? null) : null;
  return { session, dog, clips, settings };
}

/** null while there is no row of poles, and so nothing to report on. */
export function reportMatter({ session, dog, clips, settings }: ReportRecords): ReportMatter | null {
  if (!session?.layout) return null;
  const judged = judgeSession(session, clips, dog, settings.units);
  if (!judged) return null;
  const { judgement, otherRow } = judged;
  const measured = clips.filter((clip) => passesOf(clip).length > 0);
  const own = (clip: ClipRecord, id: string) => (measured.length > 1 ? `${clip.id}/${id}` : id);
  return {
    session,
    dog,
    settings,
    layout: session.layout,
    judgement,
    clips: measured
      .filter((clip) => !otherRow.includes(clip))
      .map((record) => {
        const passes = passesOf(record).map((pass) => ({
          ...pass,
          id: own(record, pass.id),
          landings: pass.landings.map((landing) => ({ ...landing, id: own(record, landing.id) })),
        }));
        const ids = new Set(passes.map((pass) => pass.id));
        return {
          record,
          analysis: record.analysis,
          passes,
          judgement: { ...judgement, passes: judgement.passes.filter((pass) => ids.has(pass.passId)) },
        };
      }),
  };
}
