import { cautions } from "../../spacing/cautions.ts";
import type { CautionId, HandlerSide, HowDogFelt, Surface } from "../../store/types.ts";

export const cautionWords: Record<CautionId, { name: string; detail: string }> = {
  surgery: { name: "Surgery or injury", detail: cautions.surgery.sentence },
  neurologic: { name: "Neurologic", detail: cautions.neurologic.sentence },
  growing: { name: "Still growing", detail: cautions.growing.sentence },
  heart: { name: "Heart or breathing", detail: cautions.heart.sentence },
  heat: { name: "Suffers in heat", detail: cautions.heat.sentence },
};

export const surfaceWords: Record<Surface, string> = {
  grass: "Grass",
  rubber: "Rubber",
  carpet: "Carpet",
  sand: "Sand",
  "hard-floor": "Hard floor",
  other: "Other",
};

export const handlerWords: Record<HandlerSide, string> = {
  left: "On its left",
  right: "On its right",
  both: "Both sides",
  none: "No handler",
};

export const feltWords: Record<HowDogFelt, string> = {
  fresh: "Fresh",
  "as-usual": "As usual",
  tired: "Tired",
  unwilling: "Unwilling",
  sore: "Sore",
};

export function optionsOf<T extends string>(words: Record<T, string>): { value: T; name: string }[] {
  return (Object.keys(words) as T[]).map((value) => ({ value, name: words[value] }));
}

const nearDay = new Intl.DateTimeFormat(undefined, { weekday: "short", day: "numeric", month: "short" });
const farDay = new Intl.DateTimeFormat(undefined, { day: "numeric", month: "short", year: "numeric" });
const clock = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit" });

/** With its year only where that is not this one. */
export function dayName(ms: number): string {
  const thisYear = new Date(ms).getFullYear() === new Date().getFullYear();
  return (thisYear ? nearDay : farDay).format(ms);
}

export function dayAndTime(ms: number): string {
  return `${dayName(ms)}, ${clock.format(ms)}`;
}

export function bytes(count: number): string {
  if (count < 1e6) return `${Math.max(1, Math.round(count / 1e3))} kB`;
  return count < 1e9 ? `${(count / 1e6).toFixed(count < 1e7 ? 1 : 0)} MB` : `${(count / 1e9).toFixed(1)} GB`;
}
