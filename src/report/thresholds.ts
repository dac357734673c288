import { lengthText, percentText, type Units } from "../charts/lengths.ts";
import { thresholds } from "../spacing/thresholds.ts";

/** The numbers that a verdict turns on, as lines for a reader. */
export function thresholdLines(units: Units): string[] {
  const t = thresholds;
  return [
    `No verdict on fewer than ${t.fewestHindLandings} hind landings in the row.`,
    `A landing under ${percentText(t.doubtfulProbability)} sure is doubtful and counts half; under ${percentText(t.countedProbability)} it does not count.`,
    `"Fits": creep under ${percentText(t.fitsWithin, 1)} of a gap per gap (or under ${lengthText(t.fitsWithinM, units)}), with a mismatch of ${percentText(t.fitsRulesOut)} ruled out.`,
    `"Too close", "too far apart": the side is at least ${percentText(t.sideLevel)} sure.`,
    `"Two steps in a gap": ${t.twoStepsPerGap} or more hind landings for each one expected. "Gap stepped over": ${t.steppedOverPerGap} or fewer.`,
    `"Move the start": landings steadily more than ${percentText(t.moveStartBeyond)} of the gap from the place aimed at.`,
    `"Not steady yet": single steps spread by more than ${percentText(t.unsteadyStepCv)}, or passes by more than ${percentText(t.unsteadyPassSd)}.`,
    `Passes are compared at one speed: within ${t.trotSpeedMps} m/s at the trot, ${percentText(t.walkSpeedShare, 1)} at the walk; change within a pass up to ${t.accelerationMps2} m/s².`,
    `Poles are moved by at most ${lengthText(t.largestMoveM, units, units === "in" ? 1 : 0)} or ${percentText(t.largestMoveShare)} at once, whichever is less.`,
  ];
}
