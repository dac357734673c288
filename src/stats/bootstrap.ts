import type { Random } from "./random.ts";

/** One resample of single observations: indices 0 to n − 1, with replacement. */
export function resampleIndices(n: number, random: Random): number[] {
  return Array.from({ length: n }, () => Math.floor(random() * n));
}

/**
 * Two-stage cluster bootstrap: clusters (passes) with replacement, then members (landings, steps) within each.
 * Davison AC, Hinkley DV. Bootstrap Methods and their Application, 1997, 3.8.
 * With one cluster only its members are resampled, so spread between clusters is then not in the result.
 */
export function clusterBootstrap<T, R>(
  clusters: readonly (readonly T[])[],
  statistic: (clusters: T[][]) => R,
  resamples: number,
  random: Random,
): R[] {
  const values: R[] = [];
  for (let b = 0; b < resamples; b++) {
    values.push(
      statistic(
        clusters.map((own) => {
          const cluster = clusters.length > 1 ? clusters[Math.floor(random() * clusters.length)]! : own;
          return cluster.map(() => cluster[Math.floor(random() * cluster.length)]!);
        }),
      ),
    );
  }
  return values;
}
