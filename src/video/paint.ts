import type { ClipFrame, PaintedFrame, PaintOptions, ReadOptions } from "./types.ts";

/** Bytes kept from one painted frame to the next of the same size. */
export interface PaintScratch {
  rgb: Uint8Array;
  image: ImageData;
}

export function paintScratch(widthPx: number, heightPx: number): PaintScratch {
  return { rgb: new Uint8Array(widthPx * heightPx * 3), image: new ImageData(widthPx, heightPx) };
}

/** Paints the whole upright picture of a frame (`from` gives its full size) over a canvas of the scratch's size. */
export function paintFrame(
  frame: ClipFrame,
  from: { widthPx: number; heightPx: number },
  context: OffscreenCanvasRenderingContext2D,
  { rgb, image }: PaintScratch,
): void {
  const { width, height, data } = image;
  frame.rgb({ x: 0, y: 0, width: from.widthPx, height: from.heightPx }, width, height, rgb);
  for (let pixel = 0, at = 0; pixel < data.length; pixel += 4, at += 3) {
    data[pixel] = rgb[at] as number;
    data[pixel + 1] = rgb[at + 1] as number;
    data[pixel + 2] = rgb[at + 2] as number;
    data[pixel + 3] = 255;
  }
  context.putImageData(image, 0, 0);
}

/** What to read of a clip so that the wanted frames can be painted. */
export function framesOf({ wanted, ...options }: PaintOptions): ReadOptions {
  return wanted ? { ...options, need: (timeS) => (wanted(timeS) ? "whole" : "nothing") } : options;
}

/** Paints frames one after another over the whole canvas, and closes them. */
export async function* paintFrames(
  frames: AsyncGenerator<ClipFrame, void, void>,
  from: { widthPx: number; heightPx: number },
  context: OffscreenCanvasRenderingContext2D,
): AsyncGenerator<PaintedFrame, void, void> {
  const scratch = paintScratch(context.canvas.width, context.canvas.height);
  for await (const frame of frames) {
    paintFrame(frame, from, context, scratch);
    frame.close();
    yield { index: frame.index, timeS: frame.timeS };
  }
}
