/** A known answer, in part. */
export interface Trial {
  /** Places in the answer's values, and what they should be. */
  at: number[];
  values: number[];
}

/** Body, neck, head, muzzle and ear: middle and half-axes, 256ths of the picture. */
const OVALS = [
  [122, 108, 62, 25],
  [182, 88, 17, 27],
  [203, 70, 20, 15],
  [222, 76, 14, 8],
  [196, 62, 7, 16],
] as const;
/** Tail, legs and feet: from x, to x, from y, to y. */
const BARS = [
  [50, 66, 88, 95],
  [70, 82, 115, 198],
  [92, 102, 115, 190],
  [160, 171, 112, 198],
  [182, 191, 112, 190],
  [70, 88, 191, 198],
  [92, 108, 183, 190],
  [160, 177, 191, 198],
  [182, 197, 183, 190],
] as const;

/**
 * The picture on which a backend is tried: a dog of ovals and bars, which stirs every map, so that a backend that
 * answers nothing is told too. size × size × 3 bytes, the same as models/training/export.py draws; whole numbers
 * only, so that both agree to the bit.
 */
export function trialPicture(size: number): Uint8Array {
  const rgb = new Uint8Array(size * size * 3);
  for (let row = 0, i = 0; row < size; row++) {
    for (let column = 0; column < size; column++, i += 3) {
      const x = Math.floor((column * 256) / size);
      const y = Math.floor((row * 256) / size);
      const shade = (x * 7 + y * 13) % 16;
      const dark = Math.floor((y - 60) / 4);
      if (onDog(x, y)) rgb.set([176 - dark, 126 - dark, 76 - Math.floor(dark / 2)], i);
      else if (y < 140) rgb.set([150 + shade, 165 + shade, 185 + shade], i);
      else rgb.set([96 + shade, 132 + shade, 78 + shade], i);
    }
  }
  return rgb;
}

/**
 * The part of the trial picture that a lower crop shows: from head to feet. size × heightPx × 3 bytes;
 * models/training/export.py cuts the same.
 */
export function lowTrialPicture(size: number, heightPx: number): Uint8Array {
  const top = Math.round((3 * (size - heightPx)) / 4);
  return trialPicture(size).slice(3 * size * top, 3 * size * (top + heightPx));
}

/** Where the pad network's trial patch is cut from the trial picture of this size: at the foot of a hind leg. */
const TRIAL_PATCH = { size: 224, x: 40, y: 130 };

/** The patch on which the pad network is tried: sidePx × sidePx × 3 bytes; models/training/export_pads.py cuts the same. */
export function trialPatch(sidePx: number): Uint8Array {
  const { size, x, y } = TRIAL_PATCH;
  const picture = trialPicture(size);
  const patch = new Uint8Array(sidePx * sidePx * 3);
  for (let row = 0; row < sidePx; row++) {
    const from = 3 * ((y + row) * size + x);
    patch.set(picture.subarray(from, from + 3 * sidePx), 3 * row * sidePx);
  }
  return patch;
}

function onDog(x: number, y: number): boolean {
  return (
    OVALS.some(([cx, cy, rx, ry]) => ((x - cx) * ry) ** 2 + ((y - cy) * rx) ** 2 <= (rx * ry) ** 2) ||
    BARS.some(([x0, x1, y0, y1]) => x >= x0 && x <= x1 && y >= y0 && y <= y1)
  );
}

/** Largest difference from the stored outputs that still counts as the right answer; half floats reach about 0.01. */
const TRIAL_TOLERANCE = 0.05;
/**
 * The same for the pad network: of a cell over the highest stored one, for they share what the last value, of there being
 * no paw, leaves them; of that last one itself.
 */
const PLACES_TOLERANCE = 0.15;

/** Whether a backend's maps agree with the stored ones. */
export function agrees(maps: Float32Array, trial: Trial): boolean {
  return near(maps, trial, () => TRIAL_TOLERANCE);
}

/** Whether a backend's places for the trial patch agree with the stored ones; their last is of there being no paw. */
export function agreesOnPlaces(places: Float32Array, trial: Trial): boolean {
  const none = places.length - 1;
  const highest = Math.max(...trial.values.filter((_, i) => trial.at[i] !== none));
  return near(places, trial, (at) => PLACES_TOLERANCE * (at === none ? 1 : highest));
}

function near(values: Float32Array, trial: Trial, tolerance: (at: number) => number): boolean {
  return trial.at.every((at, i) => Math.abs((values[at] ?? Number.NaN) - trial.values[i]!) <= tolerance(at));
}
