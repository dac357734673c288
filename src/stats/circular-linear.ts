import { resultant } from "./circular.ts";

export interface CircularLinearFit {
  /** Turns per unit of x. */
  slope: number;
  /** Angle at x = 0, radians. */
  phase: number;
  /** Resultant length of what is left, 0 to 1. */
  r: number;
}

/**
 * Circular–linear regression: the slope that gathers angle − 2π·slope·x best. Angles may wrap any number of times.
 * Kempter R, Leibold C, Buzsáki G, Diba K, Schmidt R. J Neurosci Methods 2012;207:113, eq. 1–2.
 * With several groups each has its own phase and all share the slope (the phase returned is the first group's).
 * Looks at slopes from −widest to +widest turns per unit. Own code: no kept library fits this.
 */
export function circularLinear(
  groups: readonly { x: readonly number[]; angles: readonly number[]; weights?: readonly number[] }[],
  widest = 0.5,
): CircularLinearFit {
  const span = Math.max(...groups.map((g) => Math.max(...g.x) - Math.min(...g.x)), 1);
  // The main lobe of R(slope) is 2/span wide; eight looks per lobe cannot miss it.
  const step = 1 / (4 * span);
  let best = { slope: 0, r: -1 };
  for (let slope = -widest; slope <= widest + 1e-9; slope += step) {
    const r = gathered(groups, slope);
    if (r > best.r) best = { slope, r };
  }
  for (let width = step; width > 1e-6; width /= 2) {
    for (const slope of [best.slope - width / 2, best.slope + width / 2]) {
      const r = gathered(groups, slope);
      if (r > best.r) best = { slope, r };
    }
  }
  const first = groups[0];
  const phase = first
    ? resultant(
        first.angles.map((a, i) => a - 2 * Math.PI * best.slope * first.x[i]!),
        first.weights,
      ).mean
    : 0;
  return { slope: best.slope, phase, r: best.r };
}

function gathered(
  groups: readonly { x: readonly number[]; angles: readonly number[]; weights?: readonly number[] }[],
  slope: number,
): number {
  let length = 0;
  let total = 0;
  for (const g of groups) {
    let c = 0;
    let s = 0;
    for (let i = 0; i < g.x.length; i++) {
      const w = g.weights?.[i] ?? 1;
      const a = g.angles[i]! - 2 * Math.PI * slope * g.x[i]!;
      c += w * Math.cos(a);
      s += w * Math.sin(a);
      total += w;
    }
    length += Math.hypot(c, s);
  }
  return total > 0 ? length / total : 0;
}
