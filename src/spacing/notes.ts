import { rayleigh } from "../stats/circular.ts";
import { senInterval, theilSen } from "../stats/theil-sen.ts";
import { lengthText, percentText } from "./lengths.ts";
import type { RowReading } from "./row-reading.ts";
import { commonPlace, countedHind, isHind } from "./row-reading.ts";
import { thresholds } from "./thresholds.ts";
import type { Judgement, JudgeRequest, PassJudgement } from "./types.ts";

type Judged = Omit<Judgement, "verdict" | "notes">;

/** Warnings worth a sentence each. */
export function notesOn(request: JudgeRequest, judged: Judged, reading: RowReading | null): string[] {
  return [
    ...knockNotes(judged.passes),
    ...fatigueNotes(request, judged.passes),
    ...missedNotes(judged.passes, reading),
    ...doubtNotes(judged.passes, reading),
    ...gaitNotes(request, judged.passes),
    ...directionNotes(judged),
    ...startNotes(reading),
    ...keptNotes(request, judged.passes),
    ...setAsideNotes(judged.passes),
  ];
}

function knockNotes(passes: readonly PassJudgement[]): string[] {
  const knocked = passes.map((p) => p.knocks.length);
  const poles = knocked.reduce((a, b) => a + b, 0);
  if (poles === 0) return [];
  const inRow = knocked.some((n, i) => n > 0 && (knocked[i + 1] ?? 0) > 0) || knocked.some((n) => n >= 2);
  const count = poles === 1 ? "1 pole was knocked." : `${poles} poles were knocked.`;
  return [inRow ? `${count} Knocks follow one another: stop, or make the row easier.` : count];
}

function fatigueNotes(request: JudgeRequest, passes: readonly PassJudgement[]): string[] {
  const used = passes.filter((p) => p.used && p.stepM !== null);
  if (used.length < thresholds.fatiguePasses) return [];
  const order = used.map((_, i) => i);
  const step = fallOver(
    order,
    used.map((p) => p.stepM!.value),
  );
  const speed = fallOver(
    order,
    used.map((p) => p.speedMps),
  );
  if (step <= thresholds.fatigueShare && speed <= thresholds.fatigueSpeedShare) return [];
  const first = used[0]!;
  const last = used[used.length - 1]!;
  const units = request.units ?? "cm";
  const what =
    step > thresholds.fatigueShare
      ? `The hind step shortens from pass to pass (${lengthText(first.stepM!.value, units)} in the first, ${lengthText(last.stepM!.value, units)} in the last).`
      : `The dog slows from pass to pass (by ${percentText(speed)}).`;
  return [`${what} It may be tired: end while it is still fresh.`];
}

/** Share lost from the first to the last, 0 where it may as well be none: the slope's interval must lie below zero. */
function fallOver(order: readonly number[], values: readonly number[]): number {
  if (senInterval(order, values)[1] >= 0) return 0;
  const { slope, intercept } = theilSen(order, values);
  return (-slope * (values.length - 1)) / intercept;
}

/** A gap without a landing whose neighbours lie two steps apart was not stepped over: its landing went unseen. */
function missedNotes(passes: readonly PassJudgement[], reading: RowReading | null): string[] {
  let missed = 0;
  for (const p of reading?.passes ?? []) {
    const { number } = p.feet;
    for (let i = 1; i < number.length; i++) {
      if (p.inRow[i - 1] || p.inRow[i]) missed += number[i]! - number[i - 1]! - 1;
    }
  }
  const dropped = new Set(reading?.passes.flatMap((p) => p.droppedIds));
  const notes: string[] = [];
  if (missed > 0) {
    notes.push(
      missed === 1
        ? "1 hind landing went unseen: its neighbours lie two steps apart. Add it by hand if you can see it."
        : `${missed} hind landings went unseen: their neighbours lie two steps apart. Add them by hand if you can see them.`,
    );
  }
  if (dropped.size > 0) {
    const where = passes.findIndex((p) => p.landings.some((l) => dropped.has(l.id))) + 1;
    notes.push(
      dropped.size === 1
        ? `1 hind landing (pass ${where}) is out of step with the others and was left out. Check it by hand.`
        : `${dropped.size} hind landings (the first in pass ${where}) are out of step with the others and were left out. Check them by hand.`,
    );
  }
  return notes;
}

function doubtNotes(passes: readonly PassJudgement[], reading: RowReading | null): string[] {
  const kept = new Set(reading?.passes.flatMap((p) => p.ids));
  const doubtful = passes
    .flatMap((p) => countedHind(p.landings))
    .filter((l) => kept.has(l.id) && l.probability < thresholds.doubtfulProbability).length;
  const unused = passes
    .flatMap((p) => p.landings)
    .filter((l) => isHind(l) && l.place === "row" && l.probability < thresholds.countedProbability).length;
  const notes: string[] = [];
  if (doubtful > 0) {
    notes.push(
      doubtful === 1
        ? "1 landing is doubtful and counts half."
        : `${doubtful} landings are doubtful and count half.`,
    );
  }
  if (unused > 0) {
    notes.push(
      unused === 1 ? "1 landing is too doubtful to count." : `${unused} landings are too doubtful to count.`,
    );
  }
  return notes;
}

function gaitNotes(request: JudgeRequest, passes: readonly PassJudgement[]): string[] {
  const used = new Set(passes.filter((p) => p.used).map((p) => p.passId));
  const paced = request.passes.filter((p) => used.has(p.id) && p.gait === "pace").length;
  if (paced === 0) return [];
  return [
    `${paced === 1 ? "In 1 pass" : `In ${paced} passes`} the dog paced. If it does so often, have the veterinarian look at it first.`,
  ];
}

/** The side of the lead changes left/right measures (Fahie MA et al. Front Vet Sci 2018;5:256). */
function directionNotes(judged: Judged): string[] {
  const directions = new Set(judged.passes.filter((p) => p.used).map((p) => p.direction));
  return judged.leftRight !== null && directions.size === 1
    ? [
        "All passes go one way. Film the other way too: the side of the lead alone can make left and right differ.",
      ]
    : [];
}

/** Steady steps from another start each time: landings then have no place of their own in the gaps. */
function startNotes(reading: RowReading | null): string[] {
  if (reading === null || reading.passes.length < 2) return [];
  const common = commonPlace(reading.passes);
  if (common.n < 6 || rayleigh(common, "zar").p < thresholds.commonPlaceP) return [];
  return [
    "Landings have no place of their own in the gaps. Mark one start point and set off from it each time.",
  ];
}

/** A person's word against the program's: it counts, and everyone who reads the numbers must know. */
function keptNotes({ decisions }: JudgeRequest, passes: readonly PassJudgement[]): string[] {
  return passes.flatMap((pass, i) => {
    if (!pass.used || !pass.keptDespite) return [];
    const reason = decisions?.[pass.passId]?.reason.trim();
    const by = reason ? `kept in by hand (${reason})` : "kept in by hand";
    return [`Pass ${i + 1} was ${by}. The program would have set it aside: ${pass.keptDespite}`];
  });
}

function setAsideNotes(passes: readonly PassJudgement[]): string[] {
  const aside = passes.filter((p) => !p.used).length;
  if (aside === 0) return [];
  return [
    `${aside} of ${passes.length} passes ${aside === 1 ? "does" : "do"} not count; the reason stands with each.`,
  ];
}
