import { lengthText, percentText, type Units } from "../spacing/lengths.ts";

export { lengthText, percentText, type Units };

const PER_METRE: Record<Units, number> = { cm: 100, in: 100 / 2.54 };

/** Metres in the units shown. */
export function shown(metres: number, units: Units): number {
  return metres * PER_METRE[units];
}

/** A number with a true minus sign; never "−0". */
export function numberText(value: number, digits: number): string {
  const fixed = value.toFixed(digits);
  return Number(fixed) === 0 ? fixed.replace("-", "") : fixed.replace("-", "−");
}

/** With its sign, so that a direction can be read from it. */
export function signedText(value: number, digits: number): string {
  const text = numberText(value, digits);
  return value > 0 && Number(value.toFixed(digits)) !== 0 ? `+${text}` : text;
}

/** "+2.1 cm" */
export function signedLengthText(metres: number, units: Units, digits = 1): string {
  return `${signedText(shown(metres, units), digits)} ${units}`;
}

/** "43.1 to 45.3 cm" */
export function rangeText(interval: readonly [number, number], units: Units, digits = 1): string {
  const [low, high] = interval;
  return `${numberText(shown(low, units), digits)} to ${numberText(shown(high, units), digits)} ${units}`;
}

/** A gap as it was laid: whole centimetres, half inches, and a decimal more only where it needs one. */
export function spacingText(metres: number, units: Units): string {
  const value = Math.round(shown(metres, units) * 10) / 10;
  return `${Number.isInteger(value) ? value : value.toFixed(1)} ${units}`;
}

/** Half of the 95 % interval of a place known to a standard error: "± 1.3"; empty where nothing is known of it. */
export function marginText(standardErrorM: number, units: Units, digits = 1): string {
  return Number.isFinite(standardErrorM)
    ? `± ${numberText(shown(HALF_95 * standardErrorM, units), digits)}`
    : "";
}

/** The normal distribution's 97.5 % point. */
export const HALF_95 = 1.96;
