import type { Mean } from "./pooled-step.ts";

/**
 * The error that passes have in common because one camera measured their lengths, as a share. What one camera knows of
 * lengths, another one's does not add to: passes share it, and it is taken as it is on average.
 * @param scaleSe standard error of lengths by pass id, as a share; a pass that is not named has none
 */
export function scaleErrorOf(
  passIds: readonly string[],
  scaleSe: Record<string, number> | undefined,
): number {
  if (!scaleSe || passIds.length === 0) return 0;
  return Math.sqrt(passIds.reduce((sum, id) => sum + (scaleSe[id] ?? 0) ** 2, 0) / passIds.length);
}

/** A mean length with the error of its scale counted in. */
export function withScaleError(mean: Mean, share: number): Mean {
  return share === 0 ? mean : { ...mean, se: Math.hypot(mean.se, share * mean.value) };
}
