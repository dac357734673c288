/**
 * The picture on which a backend is tried: size × size × 3 bytes, the same as models/training/export.py draws.
 * Whole numbers only, so that both agree to the bit.
 */
export function trialPicture(size: number): Uint8Array {
  const rgb = new Uint8Array(size * size * 3);
  let i = 0;
  for (let y = 0; y < size; y++) {
    for (let x = 0; x < size; x++) {
      for (let c = 0; c < 3; c++) {
        rgb[i++] = Math.floor((x * x * 3 + y * y * 5 + x * y * 2 + c * 4000) / 64) % 256;
      }
    }
  }
  return rgb;
}

/** Largest difference from the stored outputs that still counts as the right answer; half floats reach about 0.01. */
const TRIAL_TOLERANCE = 0.05;

/** Whether a backend's maps agree with the stored ones. */
export function agrees(maps: Float32Array, trial: { at: number[]; values: number[] }): boolean {
  return trial.at.every((at, i) => Math.abs((maps[at] ?? Number.NaN) - trial.values[i]!) <= TRIAL_TOLERANCE);
}
