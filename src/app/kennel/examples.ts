import type { AimId, Layout, PoleGait } from "../../spacing/types.ts";
import type { ClipRecord, Dog, HowDogFelt, Keeper, Session } from "../../store/types.ts";
import { judgeSession } from "../judging.ts";
import { type Going, simulatePasses } from "./example-passes.ts";

const DAY = 86_400_000;

/** One day of an example dog. */
interface ExampleDay
  extends Pick<Going, "freeStepM" | "rowStepM" | "speedMps" | "scatter" | "startFraction" | "unevenness"> {
  daysAgo: number;
  gapsM: number[];
  heightM: number;
  passes: number;
  felt: HowDogFelt;
  notes: string;
  /** The passes come in two clips, one a direction. */
  clips: 1 | 2;
}

type ExampleDog = Omit<Dog, "id" | "addedAt" | "changedAt" | "example" | "plan" | "photo"> & {
  days: ExampleDay[];
};

const steady = { scatter: 0.03, startFraction: 0.5, unevenness: 0 };
const even = (gapM: number, gaps = 5) => Array.from({ length: gaps }, () => gapM);

/** The invented Millbrook Dog Gym. No real dog has these measures. */
const kennel: ExampleDog[] = [
  {
    name: "Juniper",
    letters: "JU",
    measures: { withersM: 0.5, shoulderM: 0.42, bodyLengthM: 0.78, elbowM: 0.27, carpusM: 0.11, hockM: 0.14 },
    gait: "trot",
    aim: "longer-reach",
    shortLegged: false,
    cautions: [],
    clearance: null,
    notes: "Keen. Looks at the handler when the reward hand moves.",
    days: [
      {
        ...steady,
        daysAgo: 20,
        gapsM: even(0.5),
        heightM: 0,
        freeStepM: 0.46,
        rowStepM: 0.47,
        speedMps: 1.62,
        scatter: 0.045,
        startFraction: 0.6,
        passes: 4,
        felt: "fresh",
        notes: "First time over the new poles.",
        clips: 1,
      },
      {
        ...steady,
        daysAgo: 16,
        gapsM: even(0.47),
        heightM: 0,
        freeStepM: 0.465,
        rowStepM: 0.471,
        speedMps: 1.65,
        passes: 6,
        felt: "as-usual",
        notes: "",
        clips: 2,
      },
      {
        ...steady,
        daysAgo: 13,
        gapsM: even(0.47),
        heightM: 0.05,
        freeStepM: 0.468,
        rowStepM: 0.472,
        speedMps: 1.66,
        passes: 6,
        felt: "as-usual",
        notes: "Poles on the lowest stands.",
        clips: 1,
      },
      {
        ...steady,
        daysAgo: 9,
        gapsM: even(0.49),
        heightM: 0.05,
        freeStepM: 0.47,
        rowStepM: 0.488,
        speedMps: 1.7,
        passes: 6,
        felt: "fresh",
        notes: "",
        clips: 2,
      },
      {
        ...steady,
        daysAgo: 6,
        gapsM: even(0.51),
        heightM: 0.05,
        freeStepM: 0.475,
        rowStepM: 0.5,
        speedMps: 1.78,
        scatter: 0.04,
        passes: 6,
        felt: "as-usual",
        notes: "Windy; looked away twice.",
        clips: 1,
      },
      {
        ...steady,
        daysAgo: 2,
        gapsM: even(0.5),
        heightM: 0.05,
        freeStepM: 0.478,
        rowStepM: 0.5,
        speedMps: 1.74,
        passes: 6,
        felt: "fresh",
        notes: "",
        clips: 2,
      },
    ],
  },
  {
    name: "Biscuit",
    letters: "BI",
    measures: { withersM: 0.57, shoulderM: 0.45, bodyLengthM: 0.93, elbowM: 0.3, carpusM: 0.13, hockM: 0.16 },
    gait: "walk",
    aim: "even-loading",
    shortLegged: false,
    cautions: ["surgery"],
    clearance: { who: "Dr. A. Example", day: "2026-01-12" },
    notes: "Back at work after a knee operation; the surgeon's plan is in the folder.",
    days: [
      {
        ...steady,
        daysAgo: 14,
        gapsM: even(0.45),
        heightM: 0,
        freeStepM: 0.44,
        rowStepM: 0.452,
        speedMps: 0.82,
        unevenness: 0.09,
        passes: 4,
        felt: "as-usual",
        notes: "Short breaks after every second pass.",
        clips: 1,
      },
      {
        ...steady,
        daysAgo: 7,
        gapsM: even(0.45),
        heightM: 0,
        freeStepM: 0.442,
        rowStepM: 0.45,
        speedMps: 0.84,
        unevenness: 0.06,
        passes: 6,
        felt: "as-usual",
        notes: "",
        clips: 1,
      },
      {
        ...steady,
        daysAgo: 1,
        gapsM: even(0.46),
        heightM: 0,
        freeStepM: 0.445,
        rowStepM: 0.459,
        speedMps: 0.85,
        unevenness: 0.05,
        passes: 6,
        felt: "fresh",
        notes: "",
        clips: 1,
      },
    ],
  },
  {
    name: "Otto",
    letters: "OT",
    measures: {
      withersM: 0.27,
      shoulderM: 0.21,
      bodyLengthM: 0.62,
      elbowM: 0.13,
      carpusM: 0.06,
      hockM: 0.07,
    },
    gait: "trot",
    aim: "first-poles",
    shortLegged: true,
    cautions: [],
    clearance: null,
    notes: "Long back, short legs: poles stay low.",
    days: [
      {
        ...steady,
        daysAgo: 5,
        gapsM: even(0.3, 4),
        heightM: 0,
        freeStepM: 0.265,
        rowStepM: 0.268,
        speedMps: 1.1,
        passes: 4,
        felt: "fresh",
        notes: "",
        clips: 1,
      },
    ],
  },
  {
    name: "Wren",
    letters: "WR",
    measures: {
      withersM: 0.38,
      shoulderM: 0.31,
      bodyLengthM: 0.58,
      elbowM: null,
      carpusM: null,
      hockM: null,
    },
    gait: "walk",
    aim: "first-poles",
    shortLegged: false,
    cautions: ["growing"],
    clearance: null,
    notes: "Eight months old. Not yet seen by the veterinarian.",
    days: [],
  },
];

/** Keeps the example kennel, each record marked as an example; their days count back from today. */
export async function addExampleKennel(keeper: Keeper, now = Date.now()): Promise<void> {
  await keeper.putMany(exampleRecords(now));
}

export function exampleRecords(now: number) {
  const dogs: Dog[] = [];
  const sessions: Session[] = [];
  const clips: ClipRecord[] = [];
  for (const { days, ...facts } of kennel) {
    const id = `example-${facts.letters.toLowerCase()}`;
    const kept = { addedAt: now, changedAt: now, example: true };
    const own = days.map((day, i) => daySession({ ...facts, id }, day, i, now));
    sessions.push(...own.map(({ session }) => session));
    clips.push(...own.flatMap((one) => one.clips));
    const last = own.at(-1)?.session;
    dogs.push({
      ...facts,
      ...kept,
      id,
      photo: null,
      plan: last?.layout
        ? {
            layout: last.layout,
            gait: facts.gait,
            aim: facts.aim,
            reasons: ["The row of the last session."],
            decidedAt: last.date,
            fromSessionId: null,
          }
        : null,
    });
  }
  return { dogs, sessions, clips };
}

type NamedDog = { id: string; name: string; gait: PoleGait; aim: AimId; measures: Dog["measures"] };

function daySession(dog: NamedDog, day: ExampleDay, index: number, now: number) {
  const sessionId = `${dog.id}-${index + 1}`;
  // Ten in the morning, whatever the hour of the first look.
  const date = new Date(now - day.daysAgo * DAY).setHours(10, 0, 0, 0);
  const layout: Layout = {
    gapsM: day.gapsM,
    heightsM: [day.heightM, ...day.gapsM.map(() => day.heightM)],
    targetFractions: day.gapsM.map(() => 0.5),
  };
  const passes = simulatePasses({ ...day, layout, gait: dog.gait, seed: 1000 * index + dog.name.length });
  const kept = { addedAt: date, changedAt: now, example: true };
  const parts =
    day.clips === 1
      ? [passes]
      : [passes.filter((pass) => pass.direction === 1), passes.filter((pass) => pass.direction === -1)];
  const clips: ClipRecord[] = parts.map((part, k) => ({
    ...kept,
    addedAt: date + k,
    id: `${sessionId}-clip${k + 1}`,
    sessionId,
    fileName: `${dog.name.toLowerCase()} ${index + 1}${parts.length > 1 ? (k === 0 ? " there" : " back") : ""}.mp4`,
    sizeBytes: 0,
    mimeType: "video/mp4",
    filmKept: false,
    marks: null,
    range: null,
    analysis: null,
    editedPasses: part,
    passChoices: {},
  }));
  const session: Session = {
    ...kept,
    id: sessionId,
    dogId: dog.id,
    dogName: dog.name,
    date,
    layout,
    gait: dog.gait,
    aim: dog.aim,
    surface: "rubber",
    handlerSide: "left",
    notes: day.notes,
    howDogFelt: day.felt,
    knocksSeen: index === 0 ? 2 : 0,
    judgement: null,
  };
  // Judged as a real session is.
  session.judgement = judgeSession(session, clips, null, "cm")?.judgement ?? null;
  return { session, clips };
}
