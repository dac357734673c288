/**
 * Symmetry index 100·(R − L)/(½(R + L)), per cent: 0 = equal, positive = right larger; swaps sign when sides swap.
 * Robinson RO, Herzog W, Nigg BM. J Manipulative Physiol Ther 1987;10:172.
 */
export function symmetryIndex(right: number, left: number): number {
  return (100 * (right - left)) / (0.5 * (right + left));
}
