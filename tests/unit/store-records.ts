import type { Pass } from "../../src/gait/types.ts";
import type { ClipAnalysis } from "../../src/pipeline/types.ts";
import type { ClipRecord, Dog, Draft, Session } from "../../src/store/types.ts";

/** Records for the tests of the store. */
export function dogDraft(change: Partial<Draft<Dog>> = {}): Draft<Dog> {
  return {
    name: "Juniper",
    letters: "JU",
    photo: null,
    measures: {
      shoulderM: 0.44,
      withersM: 0.5,
      bodyLengthM: 0.72,
      elbowM: 0.27,
      carpusM: 0.12,
      hockM: 0.15,
    },
    gait: "trot",
    aim: "first-poles",
    shortLegged: false,
    cautions: [],
    clearance: null,
    notes: "",
    plan: null,
    ...change,
  };
}

export function sessionDraft(dogId: string | null, change: Partial<Draft<Session>> = {}): Draft<Session> {
  return {
    dogId,
    dogName: "Juniper",
    date: Date.UTC(2026, 2, 14, 9),
    layout: { gapsM: [0.48, 0.48, 0.48], heightsM: [0, 0, 0, 0], targetFractions: [0.5, 0.5, 0.5] },
    gait: "trot",
    aim: "first-poles",
    surface: "grass",
    handlerSide: "left",
    notes: "",
    howDogFelt: null,
    knocksSeen: null,
    judgement: null,
    ...change,
  };
}

export function clipDraft(sessionId: string, change: Partial<Draft<ClipRecord>> = {}): Draft<ClipRecord> {
  return {
    sessionId,
    fileName: "juniper 1.mp4",
    sizeBytes: 0,
    mimeType: "video/mp4",
    filmKept: false,
    marks: null,
    range: null,
    analysis: null,
    editedPasses: null,
    passChoices: {},
    ...change,
  };
}

export const somePass: Pass = {
  id: "p1",
  startS: 0.4,
  endS: 2.4,
  direction: 1,
  landings: [
    {
      id: "l1",
      paw: "LH",
      onS: 0.5,
      offS: 0.7,
      xM: 0.2,
      yM: 0.4,
      xSeM: 0.01,
      probability: 0.95,
      source: "hand",
    },
  ],
  speedMps: 1.4,
  accelerationMps2: Number.NaN,
  gait: "trot",
  strideTimeS: null,
  limbPhase: null,
  dutyFactor: null,
};

export const someAnalysis: ClipAnalysis = {
  version: 1,
  clip: {
    fileName: "juniper 1.mp4",
    sizeBytes: 12,
    durationS: 3,
    widthPx: 1920,
    heightPx: 1080,
    rotationDeg: 90,
    codec: "avc",
    frameCount: 180,
    meanFps: 60,
    variableRate: true,
    decoder: "browser",
    warnings: [],
  },
  marks: { timeS: 0, poles: [{ near: { x: 10, y: 20 } }, { far: { x: 30, y: 20 } }], gapsM: [0.48] },
  ground: { map: null, residuals: [], problems: [] },
  camera: { kind: "moving", largestShiftPx: 12.5, lost: [[1, 1.2]] },
  registrations: [{ timeS: 0, frameToReference: [1, 0, 0, 0, 1, 0, 0, 0, 1], ok: true }],
  passes: [somePass],
  setAside: [],
  knocks: { p1: [2] },
  warnings: ["The film is dark."],
  backend: "wasm",
  secondsTaken: 4.2,
};
