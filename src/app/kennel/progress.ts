import type { ProgressPoint } from "../../charts/progress-line.ts";
import type { SpeedStep } from "../../charts/progress-speed.ts";
import type { Judgement } from "../../spacing/types.ts";
import type { Estimate } from "../../stats/types.ts";
import type { Session, Units } from "../../store/types.ts";
import { changeBetween } from "./change.ts";

export type JudgedSession = Session & { judgement: Judgement };

/** Sessions that can be followed over time: one gait, with a judgement, oldest first. */
export function followed(sessions: readonly Session[], gait: Session["gait"]): JudgedSession[] {
  return sessions
    .filter(
      (session): session is JudgedSession =>
        session.judgement !== null && !session.bareGround && session.gait === gait,
    )
    .sort((a, b) => a.date - b.date);
}

/** Something followed over sessions of one kind. */
export interface Measured<S extends { date: number } = JudgedSession> {
  id: string;
  name: string;
  unit: string;
  digits: number;
  /** Metres or the like to the unit shown. */
  scale: number;
  read(session: S): Estimate | null;
}

export function measured(units: Units): Measured[] {
  const lengthScale = units === "cm" ? 100 : 100 / 2.54;
  return [
    { id: "step", name: "Step", unit: units, digits: 1, scale: lengthScale, read: (s) => s.judgement.stepM },
    {
      id: "speed",
      name: "Speed",
      unit: "m/s",
      digits: 2,
      scale: 1,
      read: (s) => s.judgement.speedMps,
    },
    {
      id: "sides",
      name: "Right against left step",
      unit: "%",
      digits: 0,
      scale: 1,
      read: (s) => s.judgement.leftRight?.differencePercent ?? null,
    },
    {
      id: "stretch",
      name: "Step over the poles against its own",
      unit: "%",
      digits: 0,
      scale: 1,
      read: (s) => s.judgement.ownStep?.stretchPercent ?? null,
    },
  ];
}

export interface Followed {
  points: ProgressPoint[];
  /** Half-width of what can be chance between the first and the last session, in the unit shown. */
  noise: number | null;
  /** What can be said of the change from the first session to the last. */
  sentence: string;
}

/** A dog's own step over bare ground. */
export function naturalMeasured(units: Units): Measured<{ date: number; natural: { stepM: Estimate } }> {
  const scale = units === "cm" ? 100 : 100 / 2.54;
  return {
    id: "natural",
    name: "Own step over bare ground",
    unit: units,
    digits: 1,
    scale,
    read: (one) => one.natural.stepM,
  };
}

export function follow<S extends { date: number }>(
  sessions: readonly S[],
  what: Measured<S>,
): Followed | null {
  const values = sessions.flatMap((session) => {
    const estimate = what.read(session);
    return estimate && Number.isFinite(estimate.value) ? [{ session, estimate }] : [];
  });
  const [first] = values;
  const last = values.at(-1);
  if (!first || !last) return null;
  const points = values.map(({ session, estimate }) => ({
    at: session.date,
    value: estimate.value * what.scale,
    interval: shownInterval(estimate, what.scale),
  }));
  if (values.length === 1) {
    return { points, noise: null, sentence: "One session so far: nothing to compare it with yet." };
  }
  const change = changeBetween(first.estimate, last.estimate);
  const noise = change.smallest * what.scale;
  const by = number(Math.abs(change.difference * what.scale), what);
  if (!Number.isFinite(noise)) {
    return {
      points,
      noise: null,
      sentence: "Too few landings in one of the sessions to tell a change from chance.",
    };
  }
  const sentence = change.real
    ? `From first to last it changed by ${change.difference > 0 ? "+" : "−"}${by}; between these two sessions more than ${number(noise, what)} is more than chance.`
    : `No change that means anything: ${by} from first to last, and up to ${number(noise, what)} can be chance.`;
  return { points, noise, sentence };
}

function shownInterval({ interval }: Estimate, scale: number): [number, number] | null {
  const [low, high] = interval;
  return Number.isFinite(low) && Number.isFinite(high) ? [low * scale, high * scale] : null;
}

function number(value: number, { digits, unit }: Pick<Measured, "digits" | "unit">): string {
  return `${value.toFixed(digits)} ${unit}`;
}

/** Counts and shares without an interval of their own. */
export function followPlain(
  sessions: readonly JudgedSession[],
  read: (session: JudgedSession) => number | null,
): ProgressPoint[] {
  return sessions.flatMap((session) => {
    const value = read(session);
    return value === null ? [] : [{ at: session.date, value, interval: null }];
  });
}

/** Knocks seen on film, or counted by eye where the practitioner did. */
export function knocksOf(session: JudgedSession): number {
  return session.knocksSeen ?? session.judgement.passes.reduce((sum, pass) => sum + pass.knocks.length, 0);
}

/** Every counted pass with its step and speed. */
export function speedSteps(sessions: readonly JudgedSession[]): SpeedStep[] {
  const newest = sessions.at(-1)?.id;
  return sessions.flatMap((session) =>
    session.judgement.passes.flatMap((pass) =>
      pass.used && pass.stepM
        ? [{ speedMps: pass.speedMps, stepM: pass.stepM.value, newest: session.id === newest }]
        : [],
    ),
  );
}

/** Warns where a changed step goes with a changed speed in the same direction. */
export function speedBehindStep(first: JudgedSession, last: JudgedSession): string | null {
  const steps = [first.judgement.stepM, last.judgement.stepM] as const;
  const speeds = [first.judgement.speedMps, last.judgement.speedMps] as const;
  if (!steps[0] || !steps[1] || !speeds[0] || !speeds[1]) return null;
  const step = changeBetween(steps[0], steps[1]);
  const speed = changeBetween(speeds[0], speeds[1]);
  if (!step.real || !speed.real || step.difference * speed.difference < 0) return null;
  const way = speed.difference > 0 ? "faster" : "slower";
  const size = step.difference > 0 ? "longer" : "shorter";
  return `It also went ${Math.abs(speed.difference).toFixed(2)} m/s ${way}: the ${size} step may be no more than that. Compare passes of equal speed below.`;
}
