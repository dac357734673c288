import { annotatedPictures, type DrawOver, writeAnnotatedClip } from "../../../src/video/annotate.ts";
import { openClip } from "../../../src/video/open.ts";
import { ClipError, type ClipFacts, type ClipFrame, type ReadOptions } from "../../../src/video/types.ts";

/** Size of the picture as stored and the turn that makes it upright: where the barcode blocks are. */
export interface Standing {
  storedWidth: number;
  storedHeight: number;
  rotationDeg: number;
}

export interface Reading {
  facts: ClipFacts;
  times: number[];
  frames: { index: number; timeS: number; number: number }[];
  fallbackProgress: number[];
}

const BITS = 12;

async function fetchClip(url: string): Promise<Blob> {
  const response = await fetch(url);
  if (!response.ok) throw new Error(`${url}: ${response.status}`);
  return response.blob();
}

/** Middle of each barcode block in the upright picture, as a small square region of whole pixels. */
function blocks({ storedWidth, storedHeight, rotationDeg }: Standing, scaleX = 1) {
  const block = Math.floor(storedWidth / (BITS + 1));
  return Array.from({ length: BITS }, (_, bit) => {
    const x = block / 2 + (bit + 0.5) * block;
    const y = storedHeight / 8;
    const [ux, uy] =
      rotationDeg === 90
        ? [storedHeight - y, x]
        : rotationDeg === 180
          ? [storedWidth - x, storedHeight - y]
          : rotationDeg === 270
            ? [y, storedWidth - x]
            : [x, y];
    return { x: ux * scaleX - 2, y: uy - 2, width: 4, height: 4 };
  });
}

function readNumber(frame: ClipFrame, standing: Standing, scaleX: number): number {
  return blocks(standing, scaleX).reduce((sum, region, bit) => {
    const grey = frame.grey(region, 1, 1)[0] ?? 0;
    return grey > 128 ? sum | (1 << bit) : sum;
  }, 0);
}

/** Opens a clip and reads the number in every frame from its pixels. */
async function readAll(
  url: string,
  standing: Standing,
  options: ReadOptions & { heldBytes?: number } = {},
): Promise<Reading> {
  const fallbackProgress: number[] = [];
  const clip = await openClip(await fetchClip(url), {
    fileName: url.split("/").at(-1) ?? "",
    onFallbackProgress: (done) => fallbackProgress.push(done),
    ...(options.heldBytes ? { heldBytes: options.heldBytes } : {}),
  });
  const scaleX =
    clip.facts.widthPx / (standing.rotationDeg % 180 === 0 ? standing.storedWidth : standing.storedHeight);
  const frames: Reading["frames"] = [];
  for await (const frame of clip.frames(options)) {
    frames.push({ index: frame.index, timeS: frame.timeS, number: readNumber(frame, standing, scaleX) });
    frame.close();
  }
  const times = await clip.frameTimes();
  const facts = structuredClone(clip.facts);
  clip.close();
  return { facts, times, frames, fallbackProgress };
}

/** Number in the picture shown at each of the given times, read from the bitmap. */
async function readPictures(
  url: string,
  standing: Standing,
  timesS: number[],
  maxWidthPx?: number,
): Promise<{ widthPx: number; heightPx: number; numbers: number[] }> {
  const clip = await openClip(await fetchClip(url), { fileName: url });
  const numbers: number[] = [];
  let widthPx = 0;
  let heightPx = 0;
  for (const timeS of timesS) {
    const bitmap = await clip.picture(timeS, maxWidthPx);
    widthPx = bitmap.width;
    heightPx = bitmap.height;
    const context = new OffscreenCanvas(widthPx, heightPx).getContext("2d");
    if (!context) throw new Error("no canvas");
    context.drawImage(bitmap, 0, 0);
    bitmap.close();
    const scale = widthPx / clip.facts.widthPx;
    const number = blocks(standing).reduce((sum, { x, y, width, height }, bit) => {
      const at = [(x + width / 2) * scale, (y + height / 2) * scale].map(Math.floor) as [number, number];
      return (context.getImageData(...at, 1, 1).data[1] ?? 0) > 128 ? sum | (1 << bit) : sum;
    }, 0);
    numbers.push(number);
  }
  clip.close();
  return { widthPx, heightPx, numbers };
}

/** The kind and sentence with which a file is refused; null when it opens. */
async function refusal(url: string): Promise<{ kind: string; message: string } | null> {
  try {
    const clip = await openClip(await fetchClip(url), { fileName: url.split("/").at(-1) ?? "" });
    clip.close();
    return null;
  } catch (error) {
    if (error instanceof ClipError) return { kind: error.kind, message: error.message };
    throw error;
  }
}

/** Refusal of a file of no bytes. */
async function refusalOfNothing(): Promise<{ kind: string; message: string } | null> {
  try {
    await openClip(new Blob([]), { fileName: "nothing.mp4" });
    return null;
  } catch (error) {
    if (error instanceof ClipError) return { kind: error.kind, message: error.message };
    throw error;
  }
}

/** Reads until `count` frames have come, then raises the signal; then reads the whole clip again. */
async function stopAfter(
  url: string,
  count: number,
): Promise<{ frames: number; kind: string; again: number }> {
  const stop = new AbortController();
  const clip = await openClip(await fetchClip(url));
  let frames = 0;
  let kind = "none";
  let again = 0;
  try {
    for await (const frame of clip.frames({ signal: stop.signal })) {
      frame.close();
      frames++;
      if (frames === count) stop.abort();
    }
  } catch (error) {
    kind = error instanceof ClipError ? error.kind : String(error);
  }
  for await (const frame of clip.frames()) {
    frame.close();
    again++;
  }
  clip.close();
  return { frames, kind, again };
}

/** Raises the signal as soon as the extra program reports that it is being loaded. */
async function stopWhileOpening(url: string): Promise<string> {
  const stop = new AbortController();
  try {
    const clip = await openClip(await fetchClip(url), {
      signal: stop.signal,
      onFallbackProgress: () => stop.abort(),
    });
    clip.close();
    return "none";
  } catch (error) {
    return error instanceof ClipError ? error.kind : String(error);
  }
}

/** Decodes a clip by the browser and, with the browser's decoder hidden, by ffmpeg; largest difference of a sample. */
async function compareDecoders(
  url: string,
): Promise<{ decoders: string[]; frames: number; worstGrey: number; worstRgb: number }> {
  const file = await fetchClip(url);
  const decoders: string[] = [];
  const readings: { grey: Uint8Array; rgb: Uint8Array }[][] = [];
  const decoder = globalThis.VideoDecoder;
  for (const hidden of [false, true]) {
    if (hidden) Reflect.deleteProperty(globalThis, "VideoDecoder");
    try {
      const clip = await openClip(file);
      decoders.push(clip.facts.decoder);
      const { widthPx, heightPx } = clip.facts;
      const whole = { x: 0, y: 0, width: widthPx, height: heightPx };
      const samples: (typeof readings)[number] = [];
      for await (const frame of clip.frames()) {
        samples.push({ grey: frame.grey(whole, 80, 45), rgb: frame.rgb(whole, 40, 20) });
        frame.close();
      }
      readings.push(samples);
      clip.close();
    } finally {
      globalThis.VideoDecoder = decoder;
    }
  }
  const [one = [], other = []] = readings;
  const worst = (a: Uint8Array, b: Uint8Array) =>
    a.reduce((most, value, at) => Math.max(most, Math.abs(value - (b[at] as number))), 0);
  return {
    decoders,
    frames: Math.min(one.length, other.length),
    worstGrey: Math.max(
      ...one.map((sample, k) => worst(sample.grey, other[k]?.grey ?? new Uint8Array(3600))),
    ),
    worstRgb: Math.max(...one.map((sample, k) => worst(sample.rgb, other[k]?.rgb ?? new Uint8Array(2400)))),
  };
}

/** A red square over the upright full-size pixels 40 to 60 across and 80 to 100 down. */
const redSquare: DrawOver = (context) => {
  context.fillStyle = "rgb(255 0 0)";
  context.fillRect(40, 80, 20, 20);
};

interface Written {
  drawn: { timeS: number; index: number }[];
  progress: number[];
  bytes: number;
  codec: string;
  widthPx: number;
  heightPx: number;
  frames: { timeS: number; number: number }[];
  /** Mean red, green, blue inside the square that was drawn, over all frames. */
  square: number[];
}

/** Writes a clip with a square over it, opens what was written and reads numbers and square from its pixels. */
async function writeAndRead(
  url: string,
  standing: Standing,
  options: { maxWidthPx: number; fromS?: number; toS?: number; slowdown?: number },
): Promise<Written> {
  const clip = await openClip(await fetchClip(url), { fileName: url });
  const { widthPx } = clip.facts;
  const drawn: Written["drawn"] = [];
  const progress: number[] = [];
  const draw: DrawOver = (context, timeS, index) => {
    drawn.push({ timeS, index });
    return redSquare(context, timeS, index);
  };
  const written = await writeAnnotatedClip(clip, draw, {
    ...options,
    onProgress: (done) => progress.push(done),
  }).finally(() => clip.close());
  const again = await openClip(written.blob, { fileName: `film.${written.extension}` });
  const scale = again.facts.widthPx / widthPx;
  const square = [0, 0, 0];
  const frames: Written["frames"] = [];
  for await (const frame of again.frames()) {
    const number = blocks(standing).reduce((sum, { x, y, width, height }, bit) => {
      const region = { x: x * scale, y: y * scale, width: width * scale, height: height * scale };
      return (frame.grey(region, 1, 1)[0] ?? 0) > 128 ? sum | (1 << bit) : sum;
    }, 0);
    frame
      .rgb({ x: 44 * scale, y: 84 * scale, width: 12 * scale, height: 12 * scale }, 1, 1)
      .forEach((value, channel) => {
        square[channel] = (square[channel] ?? 0) + value;
      });
    frames.push({ timeS: frame.timeS, number });
    frame.close();
  }
  const { facts } = again;
  again.close();
  return {
    drawn,
    progress,
    bytes: written.blob.size,
    codec: facts.codec,
    widthPx: facts.widthPx,
    heightPx: facts.heightPx,
    frames,
    square: square.map((sum) => sum / frames.length),
  };
}

/** Raises the signal after some frames of writing. */
async function stopWriting(url: string): Promise<string> {
  const stop = new AbortController();
  const clip = await openClip(await fetchClip(url));
  let drawn = 0;
  const draw: DrawOver = () => {
    if (++drawn === 4) stop.abort();
  };
  try {
    await writeAnnotatedClip(clip, draw, { maxWidthPx: 160, signal: stop.signal });
    return "none";
  } catch (error) {
    return error instanceof ClipError ? `${error.kind} after ${drawn}` : String(error);
  } finally {
    clip.close();
  }
}

/** The last of several planned pictures, opened again: size, number, middle of the square, and what was drawn on. */
async function readAnnotated(url: string, standing: Standing, timesS: number[], maxWidthPx: number) {
  const clip = await openClip(await fetchClip(url));
  const told: number[][] = [];
  const plans = timesS.map((timeS) => ({
    timeS,
    draw: (context: OffscreenCanvasRenderingContext2D, shownS: number, index: number) => {
      told.push([shownS, index]);
      return redSquare(context, shownS, index);
    },
  }));
  let png = new Blob();
  for await (const canvas of annotatedPictures(clip, plans, maxWidthPx)) png = await canvas.convertToBlob();
  const bitmap = await createImageBitmap(png);
  const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext("2d");
  if (!context) throw new Error("no canvas");
  context.drawImage(bitmap, 0, 0);
  const scale = bitmap.width / clip.facts.widthPx;
  const pixel = (x: number, y: number) => [
    ...context.getImageData(Math.floor(x * scale), Math.floor(y * scale), 1, 1).data,
  ];
  const number = blocks(standing).reduce(
    (sum, { x, y, width, height }, bit) =>
      (pixel(x + width / 2, y + height / 2)[1] ?? 0) > 128 ? sum | (1 << bit) : sum,
    0,
  );
  clip.close();
  return {
    type: png.type,
    widthPx: bitmap.width,
    heightPx: bitmap.height,
    number,
    square: pixel(50, 90),
    told,
  };
}

/** Frames and seconds of reading a whole clip, with or without one grey ≤ 640 wide and one 256 × 256 crop a frame. */
async function speed(
  url: string,
  sampled: boolean,
): Promise<{ frames: number; seconds: number; decoder: string }> {
  const file = await fetchClip(url);
  const clip = await openClip(file, { fileName: url });
  const { widthPx, heightPx, decoder } = clip.facts;
  const grey = new Uint8Array(640 * 360);
  const rgb = new Uint8Array(256 * 256 * 3);
  let frames = 0;
  const start = performance.now();
  for await (const frame of clip.frames()) {
    if (sampled) {
      frame.grey({ x: 0, y: 0, width: widthPx, height: heightPx }, 640, 360, grey);
      const side = heightPx / 2;
      frame.rgb({ x: 3.3 + frames, y: side - 0.6, width: side, height: side }, 256, 256, rgb);
    }
    frame.close();
    frames++;
  }
  const seconds = (performance.now() - start) / 1000;
  clip.close();
  return { frames, seconds, decoder };
}

/** What a test may ask for, on the page or in the worker. */
export const checks = {
  readAll,
  readPictures,
  refusal,
  refusalOfNothing,
  stopAfter,
  stopWhileOpening,
  compareDecoders,
  speed,
  writeAndRead,
  stopWriting,
  readAnnotated,
};
export type Checks = typeof checks;
