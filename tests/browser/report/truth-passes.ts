import type { Truth } from "../../../fixtures/studio/truth.ts";
import type { Pass } from "../../../src/gait/types.ts";
import { fitGround } from "../../../src/ground/fit.ts";
import type { ClipAnalysis } from "../../../src/pipeline/types.ts";
import type { Layout } from "../../../src/spacing/types.ts";
import type { ClipFacts } from "../../../src/video/types.ts";

/** The passes of a fixture as it truly was: exports are under test here, not the finding of landings. */
export function truePasses(truth: Truth): Pass[] {
  return truth.passes.map((pass, i) => ({
    id: `pass-${i + 1}`,
    startS: pass.startS,
    endS: pass.endS,
    direction: pass.direction,
    speedMps: pass.speedMps,
    accelerationMps2: 0,
    gait: truth.gait,
    strideTimeS: pass.strideTimeS,
    limbPhase: null,
    dutyFactor: null,
    landings: truth.landings
      .filter((landing) => landing.onS >= pass.startS - 0.5 && landing.offS <= pass.endS + 0.5)
      .map((landing, k) => ({
        id: `p${i}-${k}`,
        paw: landing.paw,
        onS: landing.onS,
        offS: landing.offS,
        xM: landing.xM,
        yM: landing.yM,
        xSeM: 0.005,
        probability: 1,
        source: k === 0 ? "hand" : "automatic",
      })),
  }));
}

export function trueLayout({ marks }: Truth): Layout {
  return {
    gapsM: marks.gapsM,
    heightsM: marks.poles.map(() => marks.poleHeightM ?? 0),
    targetFractions: marks.gapsM.map(() => 0.5),
  };
}

export function trueAnalysis(truth: Truth, clip: ClipFacts): ClipAnalysis {
  return {
    version: 1,
    clip,
    marks: truth.marks,
    ground: fitGround(truth.marks, clip),
    camera: { kind: "still", largestShiftPx: 0, lost: [] },
    registrations: [],
    passes: truePasses(truth),
    setAside: [],
    knocks: {},
    warnings: [],
    backend: "none",
    secondsTaken: 0,
  };
}
