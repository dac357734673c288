import type { Units } from "../store/types.ts";

const metresPerUnit: Record<Units, number> = { cm: 0.01, in: 0.0254 };

export const unitName: Record<Units, string> = { cm: "cm", in: "in" };

/** Metres as a bare number in the unit of the screen: 0.45 → "45" or "17.7". */
export function lengthNumber(metres: number, units: Units, decimals = units === "in" ? 1 : 0): string {
  const value = metres / metresPerUnit[units];
  const rounded = value.toFixed(decimals);
  // No "-0".
  return Number(rounded) === 0 ? (0).toFixed(decimals) : rounded;
}

/** Metres with their unit: "45 cm". */
export function length(metres: number, units: Units, decimals?: number): string {
  return `${lengthNumber(metres, units, decimals)} ${unitName[units]}`;
}

/** What was typed in the unit of the screen, in metres; null where it is no number. A comma is a point. */
export function metresTyped(text: string, units: Units): number | null {
  const cleaned = text.trim().replace(",", ".");
  if (!/^\d*\.?\d+$|^\d+\.$/.test(cleaned)) return null;
  return Number(cleaned) * metresPerUnit[units];
}
