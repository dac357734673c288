import type { Paw } from "../../src/gait/types.ts";
import type { Judgement, PassJudgement, PlacedLanding, VerdictKind } from "../../src/spacing/types.ts";

/** A row that an invented dog crosses with a known step: all of it worked out from these numbers, none by chance. */
export interface SampleRow {
  gapsM: number[];
  stepM: number;
  /** Hind landing of the first gap, metres from the first pole met. */
  firstM: number;
  passes: number;
  kind: VerdictKind;
  sentence: string;
  spacingM: number | null;
  moveStartM?: number | null;
  /** Largest sideways wobble of a landing along the row, metres. */
  wobbleM?: number;
  bothWays?: boolean;
}

/** Wobble that looks irregular and is the same on every run. */
const wobble = (i: number) => Math.sin(i * 2.399) * Math.cos(i * 1.17);

export function sampleJudgement(row: SampleRow): Judgement {
  const lengthM = row.gapsM.reduce((sum, gap) => sum + gap, 0);
  const passes = Array.from({ length: row.passes }, (_, i) => samplePass(row, i, lengthM));
  const creep = row.stepM - lengthM / row.gapsM.length;
  return {
    verdict: {
      kind: row.kind,
      sentence: row.sentence,
      evidence: "The hind feet landed 1.9 cm farther on from gap to gap (95 % interval 1.2 to 2.6 cm).",
      spacingM: row.spacingM,
      intervalM: row.spacingM === null ? null : [row.stepM - 0.012, row.stepM + 0.012],
      moveStartM: row.moveStartM ?? null,
      confidence: 0.97,
      restsOn: passes.flatMap((pass) => pass.landings.filter((l) => l.place === "row").map((l) => l.id)),
      nextTime: "Lay the poles as said, let it walk through three times at one speed, and film again.",
    },
    passes,
    stepM: { value: row.stepM, interval: [row.stepM - 0.008, row.stepM + 0.008], n: 5 * row.passes },
    creepMPerGap: { value: creep, interval: [creep - 0.007, creep + 0.007], n: 5 * row.passes },
    scatter: 0.06,
    meanFraction: (row.firstM + 2 * creep) / (lengthM / row.gapsM.length),
    speedMps: { value: 1.61, interval: [1.55, 1.67], n: row.passes },
    leftRight: {
      differencePercent: { value: 2.4, interval: [-1.1, 5.9], n: 5 * row.passes },
      smallestRealPercent: 6.2,
      sentence: "Left and right steps differ by 2.4 %, less than this film can tell from nothing (6.2 %).",
    },
    ownStep: {
      approachStepM: { value: row.stepM - 0.02, interval: [row.stepM - 0.04, row.stepM], n: 6 },
      rowStepM: { value: row.stepM, interval: [row.stepM - 0.01, row.stepM + 0.01], n: 15 },
      stretchPercent: { value: 4.4, interval: [-0.2, 9.1], n: 6 },
      sentence: "It reaches 4 % further in the row than on the way to it.",
    },
    notes: ["Pass 3 was slower than the others by 0.2 m/s."],
  };
}

function samplePass(row: SampleRow, index: number, lengthM: number): PassJudgement {
  const direction: 1 | -1 = row.bothWays && index % 2 === 1 ? -1 : 1;
  const passId = `pass-${index + 1}`;
  const startS = 0.8 + index * 6;
  const landings: PlacedLanding[] = [];
  const hindCount = Math.ceil((lengthM - row.firstM) / row.stepM) + 2;
  for (let k = -2; k < hindCount; k++) {
    const wobbleM = (row.wobbleM ?? 0.012) * wobble(k + 7 * index);
    const onwardM = row.firstM + k * row.stepM + wobbleM;
    const left = (k + index) % 2 === 0;
    const onS = startS + (k + 2) * 0.29;
    landings.push(
      place(row, passId, k * 2, left ? "LH" : "RH", onwardM, left, onS, direction, lengthM),
      place(
        row,
        passId,
        k * 2 + 1,
        left ? "LF" : "RF",
        onwardM + 0.03 + wobbleM,
        left,
        onS - 0.2,
        direction,
        lengthM,
      ),
    );
  }
  const inRow = landings.filter((l) => l.place === "row" && (l.paw === "LH" || l.paw === "RH"));
  const creep = row.stepM - lengthM / row.gapsM.length;
  return {
    passId,
    direction,
    used: true,
    setAside: null,
    landings: landings.sort((a, b) => a.onS - b.onS),
    stepM: { value: row.stepM, interval: [row.stepM - 0.015, row.stepM + 0.015], n: inRow.length },
    approachStepM: { value: row.stepM - 0.02, interval: [row.stepM - 0.05, row.stepM + 0.01], n: 2 },
    creepMPerGap: { value: creep, interval: [creep - 0.015, creep + 0.015], n: inRow.length },
    scatter: 0.05,
    meanFraction: 0.55,
    hindPerGap: row.gapsM.map((_, gap) => inRow.filter((l) => l.gap === gap).length),
    knocks: index === 1 ? [3] : [],
    speedMps: 1.61 + 0.05 * wobble(index + 3),
  };
}

function place(
  row: SampleRow,
  passId: string,
  k: number,
  paw: Paw,
  onwardM: number,
  left: boolean,
  onS: number,
  direction: 1 | -1,
  lengthM: number,
): PlacedLanding {
  const xM = direction === 1 ? onwardM : lengthM - onwardM;
  const yM = 0.45 + (left ? 1 : -1) * direction * 0.055 + 0.01 * wobble(k + 3);
  let gap: number | null = null;
  let from = 0;
  row.gapsM.forEach((gapM, i) => {
    if (gap === null && xM >= from && xM < from + gapM) gap = i;
    if (gap === null) from += gapM;
  });
  const gapM = gap === null ? null : (row.gapsM[gap] ?? null);
  return {
    id: `${passId}-${paw}-${k + 4}`,
    paw,
    onS,
    offS: onS + 0.21 + 0.02 * wobble(k),
    xM,
    yM,
    xSeM: 0.006 + 0.002 * Math.abs(wobble(k)),
    probability: k % 11 === 4 ? 0.48 : 0.93,
    source: k % 9 === 2 ? "hand" : "automatic",
    passId,
    gap,
    offsetM: gapM === null ? null : xM - from - gapM / 2,
    gapFraction: gapM === null ? null : (xM - from) / gapM,
    place: gap !== null ? "row" : onwardM < 0 ? "approach" : "leaving",
  };
}

export const SAMPLES: SampleRow[] = [
  {
    gapsM: [0.45, 0.45, 0.45, 0.45, 0.45],
    stepM: 0.469,
    firstM: 0.2,
    passes: 3,
    kind: "too-close",
    sentence: "The poles are too close for this trot: lay them 47 cm apart.",
    spacingM: 0.47,
    bothWays: true,
  },
  {
    gapsM: [0.5, 0.5, 0.5, 0.5],
    stepM: 0.47,
    firstM: 0.3,
    passes: 2,
    kind: "too-far",
    sentence: "The poles are too far apart: lay them 47 cm apart.",
    spacingM: 0.47,
  },
  {
    gapsM: [0.45, 0.45, 0.45, 0.45, 0.45],
    stepM: 0.45,
    firstM: 0.225,
    passes: 3,
    kind: "fits",
    sentence: "The spacing fits.",
    spacingM: 0.45,
  },
  {
    gapsM: [0.45, 0.45, 0.45, 0.45, 0.45],
    stepM: 0.45,
    firstM: 0.37,
    passes: 3,
    kind: "fits-move-start",
    sentence: "The spacing fits, but set off 14 cm farther from the first pole.",
    spacingM: 0.45,
    moveStartM: 0.14,
  },
  {
    gapsM: [0.8, 0.8, 0.8],
    stepM: 0.4,
    firstM: 0.15,
    passes: 2,
    kind: "two-steps",
    sentence: "It takes two steps in a gap: lay the poles closer.",
    spacingM: 0.4,
  },
  {
    gapsM: [0.3, 0.3, 0.3, 0.3, 0.3, 0.3],
    stepM: 0.6,
    firstM: 0.15,
    passes: 2,
    kind: "stepped-over",
    sentence: "It steps over a gap: lay the poles farther apart.",
    spacingM: 0.33,
  },
  {
    gapsM: [0.45, 0.45, 0.45, 0.45, 0.45],
    stepM: 0.45,
    firstM: 0.2,
    passes: 4,
    kind: "not-steady",
    sentence: "Not steady yet: the speed changed from pass to pass.",
    spacingM: null,
    wobbleM: 0.16,
  },
  {
    gapsM: [0.45, 0.4, 0.5],
    stepM: 0.45,
    firstM: 0.2,
    passes: 1,
    kind: "cannot-tell",
    sentence: "Can't tell yet: three hind landings are too few.",
    spacingM: null,
  },
];
