import { z } from "zod";
import type { Landing, Pass, SetAside } from "../gait/types.ts";
import type { CameraReport, FrameRegistration, GroundFit, GroundMap, PoleMarks } from "../ground/types.ts";
import type { ClipAnalysis } from "../pipeline/types.ts";
import type {
  Judgement,
  Layout,
  PassDecision,
  PassJudgement,
  PlacedLanding,
  Verdict,
} from "../spacing/types.ts";
import type { Estimate, Matrix3 } from "../stats/types.ts";
import type { ClipFacts } from "../video/types.ts";
import type {
  Clearance,
  ClipRecord,
  Dog,
  DogMeasures,
  Gone,
  Kept,
  Plan,
  Session,
  Settings,
} from "./types.ts";

// What a record must look like to be kept or restored. Objects are loose: a field that a newer version added is
// carried through rather than lost. Every list and text has a limit, so that a made-up file cannot fill the device.

/** Any number, also NaN and the infinities: an interval may be open, and a measure may be missing. */
const num = z.custom<number>((value) => typeof value === "number", "expected a number");
const positive = z.number().gt(0).lte(100);
const time = z.number().gte(0).lte(8.64e15);
const count = z.number().int().gte(0).lte(1e9);
const word = z.string().max(200);
const text = z.string().max(20_000);
const id = z.string().regex(/^[A-Za-z0-9_-]{1,64}$/);
const span = z.tuple([num, num]);
/** A picture that can be shown and can do nothing else. */
const picture = z
  .string()
  .max(600_000)
  .regex(/^data:image\/(?:jpeg|png|webp);base64,[A-Za-z0-9+/]+=*$/);

const gait = z.enum(["walk", "trot"]);
const aim = z.enum([
  "first-poles",
  "one-at-a-time",
  "even-loading",
  "longer-reach",
  "higher-lift",
  "careful-feet",
]);

const kept = {
  id,
  changedAt: time,
  addedAt: time,
  example: z.boolean().optional(),
} satisfies Record<keyof Kept, z.ZodType>;

const metres = positive.nullable();

const measures = z.looseObject({
  shoulderM: metres,
  withersM: metres,
  bodyLengthM: metres,
  elbowM: metres,
  carpusM: metres,
  hockM: metres,
}) satisfies z.ZodType<DogMeasures>;

const layout = z
  .looseObject({
    gapsM: z.array(positive).min(1).max(60),
    heightsM: z.array(z.number().gte(0).lte(5)).max(61),
    targetFractions: z.array(z.number().gte(0).lte(1)).max(60),
    anglesDeg: z.array(z.number().gte(-90).lte(90)).max(61).optional(),
  })
  .refine(
    (row) => row.heightsM.length === row.gapsM.length + 1 && row.targetFractions.length === row.gapsM.length,
    "a row has one height more than gaps, and one target for each gap",
  ) satisfies z.ZodType<Layout>;

const plan = z.looseObject({
  layout,
  gait,
  aim,
  reasons: z.array(text).max(40),
  decidedAt: time,
  fromSessionId: id.nullable(),
}) satisfies z.ZodType<Plan>;

const day = z.string().regex(/^\d{4}-\d{2}-\d{2}$/);

export const dogRecord: z.ZodType<Dog> = z.looseObject({
  ...kept,
  name: word,
  letters: z.string().max(3),
  photo: picture.nullable(),
  measures,
  gait,
  aim,
  shortLegged: z.boolean(),
  cautions: z.array(z.enum(["surgery", "neurologic", "growing", "heart", "heat"])).max(5),
  clearance: (z.looseObject({ who: word, day }) satisfies z.ZodType<Clearance>).nullable(),
  notes: text,
  plan: plan.nullable(),
});

const estimate = z.looseObject({ value: num, interval: span, n: num }) satisfies z.ZodType<Estimate>;

const landingFields = {
  id: word,
  paw: z.enum(["LH", "RH", "LF", "RF"]),
  onS: num,
  offS: num,
  xM: num,
  yM: num,
  xSeM: num,
  probability: num,
  source: z.enum(["automatic", "hand"]),
};
const landing = z.looseObject(landingFields) satisfies z.ZodType<Landing>;
const placed = z.looseObject({
  ...landingFields,
  passId: word,
  gap: num.nullable(),
  offsetM: num.nullable(),
  gapFraction: num.nullable(),
  place: z.enum(["approach", "row", "leaving"]),
}) satisfies z.ZodType<PlacedLanding>;

const direction = z.union([z.literal(1), z.literal(-1)]);

const pass = z.looseObject({
  id: word,
  startS: num,
  endS: num,
  direction,
  landings: z.array(landing).max(2000),
  speedMps: num,
  accelerationMps2: num,
  gait: z.enum(["walk", "amble", "pace", "trot", "canter", "standing", "unclear"]),
  strideTimeS: num.nullable(),
  limbPhase: num.nullable(),
  dutyFactor: num.nullable(),
}) satisfies z.ZodType<Pass>;

const verdict = z.looseObject({
  kind: z.enum([
    "fits",
    "fits-move-start",
    "too-close",
    "too-far",
    "two-steps",
    "stepped-over",
    "not-steady",
    "cannot-tell",
  ]),
  sentence: text,
  evidence: text,
  spacingM: num.nullable(),
  intervalM: span.nullable(),
  moveStartM: num.nullable(),
  confidence: num,
  restsOn: z.array(word).max(20_000),
  nextTime: text,
}) satisfies z.ZodType<Verdict>;

const passJudgement = z.looseObject({
  passId: word,
  direction,
  used: z.boolean(),
  setAside: text.nullable(),
  keptDespite: text.nullable().optional(),
  landings: z.array(placed).max(2000),
  stepM: estimate.nullable(),
  approachStepM: estimate.nullable(),
  creepMPerGap: estimate.nullable(),
  scatter: num.nullable(),
  meanFraction: num.nullable(),
  hindPerGap: z.array(num).max(60),
  knocks: z.array(count).max(200),
  knocksPerGap: z.array(count).max(200).optional(),
  speedMps: num,
}) satisfies z.ZodType<PassJudgement>;

const judgement = z.looseObject({
  verdict,
  passes: z.array(passJudgement).max(500),
  stepM: estimate.nullable(),
  creepMPerGap: estimate.nullable(),
  scatter: num.nullable(),
  meanFraction: num.nullable(),
  speedMps: estimate.nullable(),
  leftRight: z
    .looseObject({ differencePercent: estimate, smallestRealPercent: num, sentence: text })
    .nullable(),
  ownStep: z
    .looseObject({
      approachStepM: estimate,
      rowStepM: estimate,
      stretchPercent: estimate,
      sentence: text,
    })
    .nullable(),
  notes: z.array(text).max(200),
}) satisfies z.ZodType<Judgement>;

export const sessionRecord: z.ZodType<Session> = z.looseObject({
  ...kept,
  dogId: id.nullable(),
  dogName: word,
  date: time,
  layout: layout.nullable(),
  bareGround: z.boolean().optional(),
  gait,
  aim,
  surface: z.enum(["grass", "rubber", "carpet", "sand", "hard-floor", "other"]).nullable(),
  handlerSide: z.enum(["left", "right", "both", "none"]).nullable(),
  notes: text,
  howDogFelt: z.enum(["fresh", "as-usual", "tired", "unwilling", "sore"]).nullable(),
  knocksSeen: count.nullable(),
  judgement: judgement.nullable(),
});

const point = z.looseObject({ x: num, y: num });
const marks = z.looseObject({
  timeS: num,
  poles: z.array(z.looseObject({ near: point.optional(), far: point.optional() })).max(61),
  gapsM: z.array(num).max(60),
  poleLengthM: num.optional(),
  poleHeightM: num.optional(),
}) satisfies z.ZodType<PoleMarks>;

const matrix = z.tuple([num, num, num, num, num, num, num, num, num]) satisfies z.ZodType<Matrix3>;

const groundMap = z.looseObject({
  kind: z.enum(["plane", "row"]),
  imageToGround: matrix,
  groundToImage: matrix,
  poleXM: z.array(num).max(61),
  poleLengthM: num,
  poleHeightM: num.optional(),
  camera: z.looseObject({ xM: num, yM: num, heightM: num }).nullable(),
  tapSdPx: num,
  covariance: z.array(num).max(64).nullable(),
}) satisfies z.ZodType<GroundMap>;

const ground = z.looseObject({
  map: groundMap.nullable(),
  residuals: z
    .array(z.looseObject({ pole: num, alongM: num, acrossM: num.nullable(), suspect: z.boolean() }))
    .max(61),
  problems: z
    .array(
      z.looseObject({
        kind: z.enum([
          "too-few-poles",
          "wrong-order",
          "gap-count",
          "gap-size",
          "pole-off",
          "degenerate",
          "outside-frame",
          "rough",
        ]),
        sentence: text,
        usable: z.boolean(),
        poles: z.array(num).max(61),
      }),
    )
    .max(200),
}) satisfies z.ZodType<GroundFit>;

const clipFacts = z.looseObject({
  fileName: z.string().max(1000),
  sizeBytes: num,
  durationS: num,
  widthPx: num,
  heightPx: num,
  rotationDeg: z.union([z.literal(0), z.literal(90), z.literal(180), z.literal(270)]),
  codec: word,
  frameCount: num,
  meanFps: num,
  variableRate: z.boolean(),
  decoder: z.enum(["browser", "fallback"]),
  warnings: z.array(text).max(200),
}) satisfies z.ZodType<ClipFacts>;

const analysis = z.looseObject({
  version: z.literal(1),
  clip: clipFacts,
  marks,
  ground,
  camera: z.looseObject({
    kind: z.enum(["still", "moving"]),
    largestShiftPx: num,
    lost: z.array(span).max(10_000),
  }) satisfies z.ZodType<CameraReport>,
  registrations: z
    .array(
      z.looseObject({
        timeS: num,
        frameToReference: matrix,
        ok: z.boolean(),
      }) satisfies z.ZodType<FrameRegistration>,
    )
    .max(500_000),
  passes: z.array(pass).max(500),
  setAside: z
    .array(z.looseObject({ startS: num, endS: num, reason: text }) satisfies z.ZodType<SetAside>)
    .max(5000),
  knocks: z.record(word, z.array(count).max(200)),
  warnings: z.array(text).max(500),
  backend: word,
  secondsTaken: num,
}) satisfies z.ZodType<ClipAnalysis>;

export const clipRecord: z.ZodType<ClipRecord> = z.looseObject({
  ...kept,
  sessionId: id,
  fileName: z.string().max(1000),
  sizeBytes: z.number().gte(0).lte(1e13),
  mimeType: word,
  filmKept: z.boolean(),
  marks: marks.nullable(),
  range: span.nullable(),
  analysis: analysis.nullable(),
  editedPasses: z.array(pass).max(500).nullable(),
  passChoices: z.record(
    word,
    z.looseObject({ use: z.boolean(), reason: text }) satisfies z.ZodType<PassDecision>,
  ),
});

export const goneRecord: z.ZodType<Gone> = z.looseObject({
  id,
  kind: z.enum(["dog", "session", "clip"]),
  at: time,
});

export const settingsRecord: z.ZodType<Settings> = z.looseObject({
  units: z.enum(["cm", "in"]),
  practitioner: word,
  practice: word,
  logo: picture.nullable(),
  keepFilms: z.boolean(),
  lastBackupAt: time.nullable(),
  changedAt: time,
});
