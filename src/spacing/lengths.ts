import { thresholds } from "./thresholds.ts";

export type Units = "cm" | "in";

const INCH_M = 0.0254;

/** A length for a sentence: "3.8 cm", "1.5 in"; a minus sign where negative. */
export function lengthText(metres: number, units: Units, digits = 1): string {
  return `${numberText(metres, units, digits)} ${units}`;
}

/** The same without its unit, for the first of two ends. */
export function numberText(metres: number, units: Units, digits = 1): string {
  const value = units === "in" ? metres / INCH_M : metres * 100;
  return signed(value.toFixed(digits));
}

/** A length laid with a tape: whole centimetres or half inches, "45 cm", "17½ in". */
export function tapeText(metres: number, units: Units): string {
  if (units === "cm") return `${signed((metres * 100).toFixed(0))} cm`;
  const halves = Math.round((metres / INCH_M) * 2);
  const whole = Math.trunc(Math.abs(halves) / 2);
  const sign = halves < 0 ? "−" : "";
  const half = halves % 2 === 0 ? "" : "½";
  return `${sign}${whole === 0 && half ? "" : whole}${half} in`;
}

/** The length rounded to what a tape is read to: 1 cm or ½ in, metres. */
export function roundToTape(metres: number, units: Units): number {
  const grain = units === "in" ? thresholds.roundInchM : thresholds.roundCmM;
  return Math.round(Math.round(metres / grain) * grain * 1e6) / 1e6;
}

export function percentText(share: number, digits = 0): string {
  return `${signed((100 * share).toFixed(digits))} %`;
}

/**
 * The spacing to lay next on the way to a wanted one: moved by no more than the limits of thresholds.ts, rounded to the
 * tape, and never rounded past the limit.
 */
export function limitedMove(
  fromM: number,
  wantedM: number,
  units: Units,
): { spacingM: number; limited: boolean } {
  const grain = units === "in" ? thresholds.roundInchM : thresholds.roundCmM;
  // Very short rows must still be able to move by the smallest amount a tape shows.
  const most = Math.max(grain, Math.min(thresholds.largestMoveM, thresholds.largestMoveShare * fromM));
  const move = Math.max(-most, Math.min(most, wantedM - fromM));
  let spacingM = roundToTape(fromM + move, units);
  if (Math.abs(spacingM - fromM) > most + 1e-9) {
    spacingM = roundToTape(spacingM - Math.sign(move) * grain, units);
  }
  return { spacingM, limited: Math.abs(wantedM - fromM) > most + grain / 2 };
}

/** A plain hyphen would read as a dash in a sentence. */
function signed(text: string): string {
  if (/^-0(\.0+)?$/.test(text)) return text.slice(1);
  return text.replace("-", "−");
}
