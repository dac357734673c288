import type { Channel, Colour, StoredPicture } from "./channels.ts";
import type { Region } from "./types.ts";

/** How a stored picture is turned and stretched to stand upright in square pixels. */
export interface Upright {
  widthPx: number;
  heightPx: number;
  /** Clockwise turn from stored to upright. */
  rotationDeg: 0 | 90 | 180 | 270;
  /** Mirrored left to right after the turn. */
  flip: boolean;
}

/**
 * Grey of a region of the upright picture at width × height, 0 = black to 255 = white, row by row. Each output pixel
 * is the mean of the area it covers (shrinking) or lies between the nearest four (enlarging); beyond the picture its
 * edge goes on.
 */
export function sampleGrey(
  picture: StoredPicture,
  upright: Upright,
  region: Region,
  width: number,
  height: number,
  out: Uint8Array = new Uint8Array(width * height),
): Uint8Array {
  checkSize(region, width, height, out, 1);
  const view = turn(picture, upright, region, width, height);
  const { columns, rows, base, perColumn, perRow } = view;
  if (picture.colour.model === "yuv") {
    const luma = resample(picture.channels[0], view, 0);
    const { gain, black } = lumaScale(picture.colour);
    const bias = 0.5 - black * gain;
    for (let row = 0, from = 0; row < rows; row++) {
      for (let column = 0, to = base + row * perRow; column < columns; column++, to += perColumn) {
        out[to] = clampByte((luma[from++] as number) * gain + bias);
      }
    }
    return out;
  }
  const [red, green, blue] = resampleAll(picture, view);
  const [kr, kb] = LUMA_WEIGHTS.bt709;
  for (let row = 0, from = 0; row < rows; row++) {
    for (let column = 0, to = base + row * perRow; column < columns; column++, from++, to += perColumn) {
      const grey =
        kr * (red[from] as number) + (1 - kr - kb) * (green[from] as number) + kb * (blue[from] as number);
      out[to] = clampByte(grey + 0.5);
    }
  }
  return out;
}

/** Red, green, blue of a region of the upright picture at width × height, interleaved; see {@link sampleGrey}. */
export function sampleRgb(
  picture: StoredPicture,
  upright: Upright,
  region: Region,
  width: number,
  height: number,
  out: Uint8Array = new Uint8Array(width * height * 3),
): Uint8Array {
  checkSize(region, width, height, out, 3);
  const view = turn(picture, upright, region, width, height);
  const { columns, rows, base, perColumn, perRow } = view;
  const [a, b, c] = resampleAll(picture, view);
  const [ra, rb, rc, r0, ga, gb, gc, g0, ba, bb, bc, b0] = toRgb(picture.colour);
  for (let row = 0, from = 0; row < rows; row++) {
    let to = (base + row * perRow) * 3;
    for (let column = 0; column < columns; column++, from++, to += perColumn * 3) {
      const first = a[from] as number;
      const second = b[from] as number;
      const third = c[from] as number;
      out[to] = clampByte(ra * first + rb * second + rc * third + r0);
      out[to + 1] = clampByte(ga * first + gb * second + gc * third + g0);
      out[to + 2] = clampByte(ba * first + bb * second + bc * third + b0);
    }
  }
  return out;
}

/** Twelve factors: for each of red, green, blue those of the three channels and a constant (with ½ for rounding). */
type ToRgb = [number, number, number, number, number, number, number, number, number, number, number, number];

function toRgb(colour: Colour): ToRgb {
  if (colour.model === "rgb") return [1, 0, 0, 0.5, 0, 1, 0, 0.5, 0, 0, 1, 0.5];
  const { gain, black } = lumaScale(colour);
  const chromaGain = colour.fullRange ? 1 : 255 / 224;
  const [kr, kb] = LUMA_WEIGHTS[colour.matrix];
  const kg = 1 - kr - kb;
  // R = Y + 2(1 − Kr)·Cr, B = Y + 2(1 − Kb)·Cb, G from Y = Kr·R + Kg·G + Kb·B (ITU-R BT.709-6, items 3.2 and 3.3).
  const redV = 2 * (1 - kr) * chromaGain;
  const blueU = 2 * (1 - kb) * chromaGain;
  const greenV = -(kr / kg) * redV;
  const greenU = -(kb / kg) * blueU;
  const bias = 0.5 - black * gain;
  return [
    gain,
    0,
    redV,
    bias - 128 * redV,
    gain,
    greenU,
    greenV,
    bias - 128 * (greenU + greenV),
    gain,
    blueU,
    0,
    bias - 128 * blueU,
  ];
}

/** Kr and Kb: ITU-R BT.601-7, BT.709-6 and BT.2020-2. */
const LUMA_WEIGHTS = {
  bt601: [0.299, 0.114],
  bt709: [0.2126, 0.0722],
  bt2020: [0.2627, 0.0593],
} as const;

function lumaScale(colour: Extract<Colour, { model: "yuv" }>): { gain: number; black: number } {
  return colour.fullRange ? { gain: 1, black: 0 } : { gain: 255 / 219, black: 16 };
}

function clampByte(value: number): number {
  return value < 0 ? 0 : value > 255 ? 255 : value | 0;
}

function checkSize(region: Region, width: number, height: number, out: Uint8Array, channels: number): void {
  if (!(Number.isInteger(width) && Number.isInteger(height) && width > 0 && height > 0)) {
    throw new RangeError(`A sample needs a whole positive width and height, not ${width} × ${height}.`);
  }
  if (!(region.width > 0 && region.height > 0) || !Number.isFinite(region.x + region.y)) {
    throw new RangeError(
      `A region needs a place and a positive size, not ${region.width} × ${region.height} at ${region.x}, ${region.y}.`,
    );
  }
  if (out.length < width * height * channels) {
    throw new RangeError(
      `The output holds ${out.length} bytes; ${width} × ${height} × ${channels} do not fit.`,
    );
  }
}

/** A region in pixels of the stored picture, its size in output samples, and where those go when upright. */
interface StoredView {
  x0: number;
  x1: number;
  y0: number;
  y1: number;
  columns: number;
  rows: number;
  /** Output index of the first stored sample, and its change from one stored column or row to the next. */
  base: number;
  perColumn: number;
  perRow: number;
}

function turn(
  picture: { width: number; height: number },
  upright: Upright,
  region: Region,
  width: number,
  height: number,
): StoredView {
  const { rotationDeg, flip } = upright;
  const sideways = rotationDeg === 90 || rotationDeg === 270;
  const left = flip ? upright.widthPx - region.x - region.width : region.x;
  const right = left + region.width;
  const top = region.y;
  const bottom = top + region.height;
  // Size of the stored picture in square pixels.
  const squareWidth = sideways ? upright.heightPx : upright.widthPx;
  const squareHeight = sideways ? upright.widthPx : upright.heightPx;
  const scaleX = picture.width / squareWidth;
  const scaleY = picture.height / squareHeight;
  const [x0, x1, y0, y1] =
    rotationDeg === 0
      ? [left, right, top, bottom]
      : rotationDeg === 90
        ? [top, bottom, squareHeight - right, squareHeight - left]
        : rotationDeg === 180
          ? [squareWidth - right, squareWidth - left, squareHeight - bottom, squareHeight - top]
          : [squareWidth - bottom, squareWidth - top, left, right];
  const columns = sideways ? height : width;
  const rows = sideways ? width : height;
  const place = (column: number, row: number): number => {
    const [x, y] =
      rotationDeg === 0
        ? [column, row]
        : rotationDeg === 90
          ? [width - 1 - row, column]
          : rotationDeg === 180
            ? [width - 1 - column, height - 1 - row]
            : [row, height - 1 - column];
    return y * width + (flip ? width - 1 - x : x);
  };
  const base = place(0, 0);
  return {
    x0: x0 * scaleX,
    x1: x1 * scaleX,
    y0: y0 * scaleY,
    y1: y1 * scaleY,
    columns,
    rows,
    base,
    perColumn: place(1, 0) - base,
    perRow: place(0, 1) - base,
  };
}

/** Pixels of the stored picture (of the given size) that samples of a region may touch. */
export function storedRect(
  stored: { width: number; height: number },
  upright: Upright,
  region: Region,
): { left: number; top: number; width: number; height: number } {
  const { x0, x1, y0, y1 } = turn(stored, upright, region, 1, 1);
  // One more on each side: an enlarged sample lies between two.
  const span = (from: number, to: number, most: number) => {
    const first = Math.max(0, Math.min(most - 1, Math.floor(from) - 1));
    return [first, Math.max(first + 1, Math.min(most, Math.ceil(to) + 1))] as const;
  };
  const [left, right] = span(x0, x1, stored.width);
  const [top, bottom] = span(y0, y1, stored.height);
  return { left, top, width: right - left, height: bottom - top };
}

/** For each output sample along one axis: the first stored sample under it, how many, and the weight of each. */
interface Taps {
  first: Int32Array;
  count: Int32Array;
  /** `most` weights for each output sample, in whole 256ths, which add up to 256. */
  parts: Int32Array;
  most: number;
  /** The stored samples touched at all: from inclusive to exclusive. */
  from: number;
  to: number;
}

// Samples of one picture are taken one after another in one thread, so scratch space is kept and only ever grows.
const scratch: { planes: Float32Array[]; row: Int32Array } = {
  planes: [new Float32Array(0), new Float32Array(0), new Float32Array(0)],
  row: new Int32Array(0),
};

function resampleAll(picture: StoredPicture, view: StoredView): [Float32Array, Float32Array, Float32Array] {
  const [a, b, c] = picture.channels;
  return [resample(a, view, 0), resample(b, view, 1), resample(c, view, 2)];
}

function resample(channel: Channel, view: StoredView, slot: 0 | 1 | 2): Float32Array {
  const { columns, rows } = view;
  const across = taps(view.x0 * channel.scaleX, view.x1 * channel.scaleX, columns, channel.width);
  const down = taps(view.y0 * channel.scaleY, view.y1 * channel.scaleY, rows, channel.height);
  let out = scratch.planes[slot] as Float32Array;
  if (out.length < columns * rows) {
    out = new Float32Array(columns * rows);
    scratch.planes[slot] = out;
  }
  const span = across.to - across.from;
  const room = span + across.most + 8;
  if (scratch.row.length < room) scratch.row = new Int32Array(room);
  // Rows are mixed from the whole word before the first sample on.
  const lead = (channel.offset + across.from) & 3;
  const last = channel.offset + (down.to - 1) * channel.stride + across.to;
  const words = wordsOf(channel, last);
  if (words) {
    for (let row = 0; row < rows; row++) {
      mixWords(channel, words, down, row, across.from - lead, span + lead, scratch.row);
      mixColumns(scratch.row, across, lead, out, row * columns, columns);
    }
  } else {
    for (let row = 0; row < rows; row++) {
      mixRows(channel, down, row, across.from, span, scratch.row);
      mixColumns(scratch.row, across, 0, out, row * columns, columns);
    }
  }
  return out;
}

/** The channel's bytes in fours, where its samples lie side by side, all its rows begin alike, and `end` is within. */
function wordsOf({ bytes, stride, step }: Channel, end: number): Int32Array | null {
  if (step !== 1 || stride % 4 !== 0 || bytes.byteOffset % 4 !== 0) return null;
  const words = new Int32Array(bytes.buffer, bytes.byteOffset, bytes.length >> 2);
  return end <= 4 * words.length ? words : null;
}

/** Weights of rows are whole parts of this many. */
const PARTS = 256;
/** Bytes 0 and 2 of a word. */
const EVEN = 0x00ff00ff;

/**
 * Weighted sum of the stored rows under one output row, times 256: four samples a word, two of them in one
 * multiplication (sums reach 255 × 256 and fit in 16 bits). Lanes stand as on every little-endian machine.
 */
function mixWords(
  channel: Channel,
  words: Int32Array,
  down: Taps,
  row: number,
  from: number,
  span: number,
  mixed: Int32Array,
): void {
  const count = down.count[row] as number;
  const pitch = channel.stride >> 2;
  const start = ((channel.offset + from) >> 2) + (down.first[row] as number) * pitch;
  const weightOf = (tap: number) => (tap < count ? (down.parts[row * down.most + tap] as number) : 0);
  for (let tap = 0; tap < count; tap += 4) {
    const [wa, wb, wc, wd] = [weightOf(tap), weightOf(tap + 1), weightOf(tap + 2), weightOf(tap + 3)];
    let a = start + tap * pitch;
    let b = wb === 0 ? a : a + pitch;
    let c = wc === 0 ? b : a + 2 * pitch;
    let d = wd === 0 ? c : a + 3 * pitch;
    const first = tap === 0;
    for (let x = 0; x < span; x += 4) {
      const va = words[a++] as number;
      const vb = words[b++] as number;
      const vc = words[c++] as number;
      const vd = words[d++] as number;
      const even =
        Math.imul(va & EVEN, wa) +
        Math.imul(vb & EVEN, wb) +
        Math.imul(vc & EVEN, wc) +
        Math.imul(vd & EVEN, wd);
      const odd =
        Math.imul((va >>> 8) & EVEN, wa) +
        Math.imul((vb >>> 8) & EVEN, wb) +
        Math.imul((vc >>> 8) & EVEN, wc) +
        Math.imul((vd >>> 8) & EVEN, wd);
      if (first) {
        mixed[x] = even & 0xffff;
        mixed[x + 1] = odd & 0xffff;
        mixed[x + 2] = even >>> 16;
        mixed[x + 3] = odd >>> 16;
      } else {
        mixed[x] = (mixed[x] as number) + (even & 0xffff);
        mixed[x + 1] = (mixed[x + 1] as number) + (odd & 0xffff);
        mixed[x + 2] = (mixed[x + 2] as number) + (even >>> 16);
        mixed[x + 3] = (mixed[x + 3] as number) + (odd >>> 16);
      }
    }
  }
}

/** The same for samples that do not lie side by side, two rows at a time. */
function mixRows(
  channel: Channel,
  down: Taps,
  row: number,
  from: number,
  span: number,
  mixed: Int32Array,
): void {
  const { bytes, stride, step } = channel;
  const count = down.count[row] as number;
  const start = channel.offset + (down.first[row] as number) * stride + from * step;
  for (let tap = 0; tap < count; tap += 2) {
    const w0 = down.parts[row * down.most + tap] as number;
    const w1 = tap + 1 < count ? (down.parts[row * down.most + tap + 1] as number) : 0;
    let at0 = start + tap * stride;
    let at1 = w1 === 0 ? at0 : at0 + stride;
    if (tap === 0) {
      for (let x = 0; x < span; x++, at0 += step, at1 += step) {
        mixed[x] = w0 * (bytes[at0] as number) + w1 * (bytes[at1] as number);
      }
    } else {
      for (let x = 0; x < span; x++, at0 += step, at1 += step) {
        mixed[x] = (mixed[x] as number) + w0 * (bytes[at0] as number) + w1 * (bytes[at1] as number);
      }
    }
  }
}

/** Brings one mixed row, whose first `lead` samples count for nothing, to the output's columns. */
function mixColumns(
  mixed: Int32Array,
  across: Taps,
  lead: number,
  out: Float32Array,
  start: number,
  columns: number,
): void {
  const { first, parts, most, from } = across;
  for (let column = 0, w = 0; column < columns; column++, w += most) {
    const at = (first[column] as number) - from + lead;
    // Whole numbers throughout: 255 × 256 × 256 fits. Weights that are not there are 0.
    let sum = Math.imul(parts[w] as number, mixed[at] as number);
    for (let tap = 1; tap < most; tap++) {
      sum += Math.imul(parts[w + tap] as number, mixed[at + tap] as number);
    }
    out[start + column] = sum / (PARTS * PARTS);
  }
}

/**
 * Weights that bring the stretch from `start` to `end` of a row of `length` samples (sample k reaches from k to
 * k + 1) to `outputs` samples. Samples beyond the row are its first or last.
 */
function taps(start: number, end: number, outputs: number, length: number): Taps {
  const pitch = (end - start) / outputs;
  const most = pitch >= 1 ? Math.ceil(pitch) + 1 : 2;
  const table: Taps = {
    first: new Int32Array(outputs),
    count: new Int32Array(outputs),
    parts: new Int32Array(outputs * most),
    most,
    from: length,
    to: 0,
  };
  const last = length - 1;
  const clamp = (index: number) => Math.max(0, Math.min(index, last));
  for (let output = 0; output < outputs; output++) {
    const lower = pitch >= 1 ? start + output * pitch : start + (output + 0.5) * pitch - 0.5;
    const low = Math.floor(lower);
    // Shrinking: a box from lower to upper. Enlarging: the two samples whose middles enclose the output's middle.
    const upper = pitch >= 1 ? lower + pitch : low + 2;
    const high = pitch >= 1 ? Math.max(low, Math.ceil(upper) - 1) : low + 1;
    const first = clamp(low);
    const base = output * most;
    let sum = 0;
    let shared = 0;
    for (let index = low; index <= high; index++) {
      const weight =
        pitch >= 1
          ? (Math.min(index + 1, upper) - Math.max(index, lower)) / pitch
          : index === low
            ? 1 - (lower - low)
            : lower - low;
      sum += weight;
      // What is left over by rounding goes to the next.
      const part = Math.round(PARTS * sum) - shared;
      shared += part;
      const slot = base + clamp(index) - first;
      table.parts[slot] = (table.parts[slot] as number) + part;
    }
    table.first[output] = first;
    table.count[output] = clamp(high) - first + 1;
    if (first < table.from) table.from = first;
    if (clamp(high) + 1 > table.to) table.to = clamp(high) + 1;
  }
  return table;
}
