import { scaleStandardError } from "../ground/quality.ts";
import type { PoleMarks } from "../ground/types.ts";
import { analyseInWorker } from "../pipeline/analyse.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import { judge } from "../spacing/judge.ts";
import type { AimId, Judgement, Layout, PoleGait } from "../spacing/types.ts";
import { writeOutputs } from "./outputs.ts";

/** What `npm run demo` and the benches ask of the page. */
export interface Job {
  clipUrl: string;
  fileName: string;
  marks: PoleMarks;
  gait: PoleGait;
  aim: AimId;
  /** False: only look and judge, write nothing. */
  write?: boolean;
}

export interface Told {
  kind: string;
  sentence: string;
  evidence: string;
  nextTime: string;
  notes: string[];
  passes: number;
  hindLandings: number;
  durationS: number;
  secondsTaken: number;
  analysis: ClipAnalysis;
  judgement: Judgement;
}

function scaleErrors({ ground, passes }: ClipAnalysis): Record<string, number> {
  const share = ground.map ? scaleStandardError(ground.map) : 0;
  return Object.fromEntries(passes.map((pass) => [pass.id, share]));
}

async function check(job: Job): Promise<Told> {
  const answer = await fetch(job.clipUrl);
  if (!answer.ok) throw new Error(`The clip ${job.fileName} could not be read.`);
  const file = new File([await answer.blob()], job.fileName);
  const analysis = await analyseInWorker(
    { file, fileName: job.fileName, marks: job.marks },
    { onProgress: (p) => void window.pawgapProgress?.(p.stage, p.done) },
  );
  const layout: Layout = {
    gapsM: job.marks.gapsM,
    heightsM: job.marks.poles.map(() => job.marks.poleHeightM ?? 0),
    targetFractions: job.marks.gapsM.map(() => 0.5),
  };
  const judgement = judge({
    layout,
    passes: analysis.passes,
    aim: job.aim,
    gait: job.gait,
    knocks: analysis.knocks,
    movedM: analysis.poles?.movedM,
    scaleSe: scaleErrors(analysis),
  });
  if (job.write !== false)
    await writeOutputs({ file, analysis, judgement, layout, gait: job.gait, aim: job.aim });
  const landings = analysis.passes.flatMap((p) => p.landings);
  return {
    kind: judgement.verdict.kind,
    sentence: judgement.verdict.sentence,
    evidence: judgement.verdict.evidence,
    nextTime: judgement.verdict.nextTime,
    notes: [...judgement.notes, ...analysis.warnings],
    passes: analysis.passes.length,
    hindLandings: landings.filter((l) => l.paw[1] === "H").length,
    durationS: analysis.clip.durationS,
    secondsTaken: analysis.secondsTaken,
    analysis,
    judgement,
  };
}

declare global {
  interface Window {
    pawgap: { check: typeof check };
    pawgapProgress?: (stage: string, done: number) => Promise<void>;
  }
}

window.pawgap = { check };
