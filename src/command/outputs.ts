import type { ClipAnalysis } from "../pipeline/types.ts";
import { toLandingsCsv } from "../report/landings-csv.ts";
import { renderReport } from "../report/report.ts";
import { toResultJson } from "../report/result.ts";
import type { AimId, Judgement, Layout, PoleGait } from "../spacing/types.ts";

export interface Outputs {
  file: File;
  analysis: ClipAnalysis;
  judgement: Judgement;
  layout: Layout;
  gait: PoleGait;
  aim: AimId;
}

/** Hands report.html, landings.csv and result.json to the command that opened this page. */
export async function writeOutputs(told: Outputs): Promise<void> {
  const { analysis, judgement, layout } = told;
  const result = toResultJson({ analysis, judgement, layout });
  const report = renderReport({
    judgement,
    analyses: [analysis],
    layout,
    session: { gait: told.gait, aim: told.aim },
    cautions: [],
    units: "cm",
  });
  await hand("result.json", JSON.stringify(result, null, 2));
  await hand("landings.csv", toLandingsCsv(result));
  await hand("report.html", report);
}

async function hand(name: string, body: string | Blob): Promise<void> {
  const answer = await fetch(`taken/${name}`, { method: "POST", body });
  if (!answer.ok) throw new Error(`${name} could not be written.`);
}
