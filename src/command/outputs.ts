import { unzipSync } from "fflate";
import type { ClipAnalysis } from "../pipeline/types.ts";
import { exportFramesZip, reportFrames } from "../report/frames.ts";
import { toLandingsCsv } from "../report/landings-csv.ts";
import { renderReport } from "../report/report.ts";
import { toResultJson } from "../report/result.ts";
import type { AimId, Judgement, Layout, PoleGait } from "../spacing/types.ts";
import { openClip } from "../video/open.ts";

export interface Outputs {
  file: File;
  analysis: ClipAnalysis;
  judgement: Judgement;
  layout: Layout;
  gait: PoleGait;
  aim: AimId;
}

/** Hands report.html, landings.csv, result.json and frames/*.png to the command that opened this page. */
export async function writeOutputs(told: Outputs): Promise<void> {
  const { analysis, judgement, layout } = told;
  const result = toResultJson({ analysis, judgement, layout });
  await hand("result.json", JSON.stringify(result, null, 2));
  await hand("landings.csv", toLandingsCsv(result));
  const reader = await openClip(told.file, { fileName: told.file.name });
  try {
    const frames = await reportFrames(reader, analysis, judgement);
    const report = renderReport({
      judgement,
      analyses: [analysis],
      layout,
      session: { gait: told.gait, aim: told.aim },
      cautions: [],
      units: "cm",
      frames,
    });
    await hand("report.html", report);
    if (judgement.passes.some((p) => p.landings.length > 0)) {
      const zip = await exportFramesZip(reader, analysis, judgement);
      const pictures = unzipSync(new Uint8Array(await zip.arrayBuffer()));
      for (const [name, png] of Object.entries(pictures)) {
        await hand(`frames/${name}`, new Blob([png.slice()]));
      }
    }
  } finally {
    reader.close();
  }
}

async function hand(name: string, body: string | Blob): Promise<void> {
  const answer = await fetch(`taken/${name}`, { method: "POST", body });
  if (!answer.ok) throw new Error(`${name} could not be written.`);
}
