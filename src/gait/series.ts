/** Straight line through (t, v) by weighted least squares: value at `at` and slope per unit of t. */
export function lineAt(
  t: number[],
  v: number[],
  w: number[],
  at: number,
): { value: number; slope: number } | null {
  let sw = 0;
  let st = 0;
  let sv = 0;
  let stt = 0;
  let stv = 0;
  for (let i = 0; i < t.length; i++) {
    const dt = t[i]! - at;
    const wi = w[i]!;
    sw += wi;
    st += wi * dt;
    sv += wi * v[i]!;
    stt += wi * dt * dt;
    stv += wi * dt * v[i]!;
  }
  const d = sw * stt - st * st;
  if (!(sw > 0)) return null;
  if (d <= 1e-12 * sw * sw) return { value: sv / sw, slope: 0 };
  return { value: (stt * sv - st * stv) / d, slope: (sw * stv - st * sv) / d };
}
