import type { Pass } from "../../src/gait/types.ts";
import type { ClipAnalysis } from "../../src/pipeline/types.ts";
import { polePlaces } from "../../src/spacing/travel.ts";
import type { Judgement, Layout } from "../../src/spacing/types.ts";

/** The analysis that an invented clip would give whose passes are those of the judgement. */
export function sampleAnalysis(judgement: Judgement, layout: Layout): ClipAnalysis {
  return {
    version: 1,
    clip: {
      fileName: "juniper-trot-2.mp4",
      sizeBytes: 8_412_000,
      durationS: 19.4,
      widthPx: 1920,
      heightPx: 1080,
      rotationDeg: 0,
      codec: "avc",
      frameCount: 1164,
      meanFps: 60,
      variableRate: false,
      decoder: "browser",
      warnings: [],
    },
    marks: {
      timeS: 0.5,
      poles: [0, ...layout.gapsM].map((_, i) => ({
        near: { x: 300 + i * 260, y: 820 },
        far: { x: 340 + i * 245, y: 700 },
      })),
      gapsM: layout.gapsM,
      poleLengthM: 0.9,
    },
    ground: {
      map: {
        kind: "plane",
        imageToGround: [1 / 580, 0, -300 / 580, 0, -1 / 580, 820 / 580, 0, 0, 1],
        groundToImage: [580, 0, 300, 0, -580, 820, 0, 0, 1],
        poleXM: polePlaces(layout.gapsM),
        poleLengthM: 0.9,
        camera: { xM: 1.1, yM: -3.6, heightM: 0.7 },
        tapSdPx: 1.4,
        covariance: null,
      },
      residuals: [0, ...layout.gapsM].map((_, pole) => ({
        pole,
        alongM: 0.004 - pole * 0.0015,
        acrossM: 0.006,
        suspect: false,
      })),
      problems: [],
    },
    camera: { kind: "still", largestShiftPx: 0.7, lost: [] },
    registrations: [],
    passes: judgement.passes.map(
      (pass): Pass => ({
        id: pass.passId,
        startS: Math.min(...pass.landings.map((landing) => landing.onS)),
        endS: Math.max(...pass.landings.map((landing) => landing.offS)),
        direction: pass.direction,
        landings: pass.landings.map(({ passId, gap, offsetM, gapFraction, place, ...landing }) => landing),
        speedMps: pass.speedMps,
        accelerationMps2: 0.08,
        gait: "trot",
        strideTimeS: 0.58,
        limbPhase: 0.47,
        dutyFactor: 0.38,
      }),
    ),
    setAside: [{ startS: 16.2, endS: 19.4, reason: "The dog stood still." }],
    knocks: { "pass-2": [3] },
    warnings: ["Pole 4 moved during pass 2."],
    backend: "wasm",
    secondsTaken: 21.3,
  };
}

export function sampleLayout(gapsM: number[]): Layout {
  return {
    gapsM,
    heightsM: [0, ...gapsM].map(() => 0.06),
    targetFractions: gapsM.map(() => 0.5),
  };
}
