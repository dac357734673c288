import type { Pass } from "../gait/types.ts";
import { weightedMedian } from "../stats/theil-sen.ts";
import { thresholds } from "./thresholds.ts";
import type { PassDecision, PoleGait } from "./types.ts";

const GAIT_WORDS: Partial<Record<Pass["gait"], string>> = {
  walk: "The dog walked in this pass, it did not trot.",
  trot: "The dog trotted in this pass, it did not walk.",
  canter: "The dog cantered in this pass.",
  standing: "The dog stood still in this pass.",
};

/** What the gates say of a session's passes, by pass id. */
export interface Gated {
  /** Why a pass does not count. */
  setAside: Map<string, string>;
  /** Why a pass would not count, had a person not kept it in. */
  keptDespite: Map<string, string>;
}

/**
 * The program's gates and a person's decisions together; the person has the last word. What is set aside by hand has
 * no say in what the usual speed is.
 */
export function gateWithDecisions(
  passes: readonly Pass[],
  gait: PoleGait,
  decisions: Record<string, PassDecision> = {},
): Gated {
  const byHand = passes.filter((pass) => decisions[pass.id]?.use === false);
  const byProgram = gatePasses(
    passes.filter((pass) => !byHand.includes(pass)),
    gait,
  );
  const kept = [...byProgram].filter(([id]) => decisions[id]?.use === true);
  const setAside = new Map([...byProgram].filter(([id]) => decisions[id]?.use !== true));
  for (const { id } of byHand) setAside.set(id, byHandSentence(decisions[id]?.reason ?? ""));
  return { setAside, keptDespite: new Map(kept) };
}

function byHandSentence(reason: string): string {
  const why = reason.trim().replace(/\.$/, "");
  return why === "" ? "Set aside by hand." : `Set aside by hand: ${why}.`;
}

/** Why each pass should not count, by pass id: another gait, a speed of its own, a speed that changed. */
export function gatePasses(passes: readonly Pass[], gait: PoleGait): Map<string, string> {
  const reasons = new Map<string, string>();
  for (const pass of passes) {
    const reason = wrongGait(pass, gait) ?? changedSpeed(pass);
    if (reason !== null) reasons.set(pass.id, reason);
  }
  const left = passes.filter((p) => !reasons.has(p.id));
  // Of two passes neither can be told from the usual one, so both stay; their spread shows in the interval.
  if (left.length < 3) return reasons;
  const usual = weightedMedian(left.map((p) => p.speedMps));
  const window = gait === "walk" ? thresholds.walkSpeedShare * usual : thresholds.trotSpeedMps;
  for (const pass of left) {
    if (Math.abs(pass.speedMps - usual) <= window) continue;
    const how = pass.speedMps > usual ? "faster" : "slower";
    reasons.set(
      pass.id,
      `At ${pass.speedMps.toFixed(2)} m/s this pass was ${how} than the others (${usual.toFixed(2)} m/s).`,
    );
  }
  return reasons;
}

function wrongGait(pass: Pass, gait: PoleGait): string | null {
  const other =
    pass.gait === "canter" ||
    pass.gait === "standing" ||
    (gait === "trot" && pass.gait === "walk") ||
    (gait === "walk" && pass.gait === "trot");
  return other ? (GAIT_WORDS[pass.gait] ?? null) : null;
}

function changedSpeed(pass: Pass): string | null {
  const change = Math.abs(pass.accelerationMps2);
  const overPass = change * (pass.endS - pass.startS);
  if (change <= thresholds.accelerationMps2 || overPass <= thresholds.speedChangeShare * pass.speedMps) {
    return null;
  }
  const how = pass.accelerationMps2 > 0 ? "sped up" : "slowed down";
  return `The dog ${how} within this pass (${change.toFixed(1)} m/s each second).`;
}
