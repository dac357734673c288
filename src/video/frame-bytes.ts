import type { VideoSample } from "mediabunny";
import { describeBytes, layoutOf, partOf, type StoredPicture, yuvColour } from "./channels.ts";

/** Pictures that can only be read by drawing are drawn no longer than this. */
const LONGEST_DRAWN_PX = 1920;

/** Byte arrays handed back by closed frames, for the frames to come. */
export class BytePool {
  #free = new Map<number, Uint8Array[]>();

  take(size: number): Uint8Array {
    return this.#free.get(size)?.pop() ?? new Uint8Array(size);
  }

  give(bytes: Uint8Array): void {
    const free = this.#free.get(bytes.length) ?? [];
    if (free.length < MOST_FREE) free.push(bytes);
    this.#free.set(bytes.length, free);
    // Sizes of a clip's early frames must not be kept for good.
    if (this.#free.size > MOST_SIZES) this.#free.delete(this.#free.keys().next().value as number);
  }
}

/** More than a consumer holds at once; at 4K these are 100 MB. */
const MOST_FREE = 8;
const MOST_SIZES = 4;

/** A rectangle of the stored picture, whole pixels. */
export interface StoredRect {
  left: number;
  top: number;
  width: number;
  height: number;
}

/**
 * Copies a decoded picture, or a part of it, into our memory as it is stored (not turned). Planes are copied as they
 * are where the browser lets us; a picture that stays on the graphics card in a format of its own is drawn and read
 * back.
 */
export async function copyPicture(
  sample: VideoSample,
  pool: BytePool,
  part: StoredRect | null = null,
): Promise<StoredPicture> {
  const layout = layoutOf(sample.format);
  if (!layout) return drawnPicture(sample);
  const { codedWidth: width, codedHeight: height, colorSpace, visibleRect } = sample;
  const rect = part && onEighths(part, width, height);
  const options = rect
    ? {
        rect: {
          x: visibleRect.left + rect.left,
          y: visibleRect.top + rect.top,
          width: rect.width,
          height: rect.height,
        },
      }
    : {};
  const bytes = pool.take(sample.allocationSize(options));
  const planes = await sample.copyTo(bytes as Uint8Array<ArrayBuffer>, options);
  const colour =
    layout.model === "rgb"
      ? ({ model: "rgb" } as const)
      : yuvColour(colorSpace.matrix, colorSpace.fullRange ?? false);
  if (!rect) return describeBytes(bytes, layout, planes, width, height, colour);
  const copied = describeBytes(bytes, layout, planes, rect.width, rect.height, colour);
  return partOf(copied, rect, width, height);
}

/**
 * Halved chroma is only cut at even pixels, and rows of whole words are shrunk fastest: cut at eights, and a last part
 * of the picture comes along.
 */
function onEighths(part: StoredRect, width: number, height: number): StoredRect {
  const left = 8 * Math.floor(part.left / 8);
  const top = 2 * Math.floor(part.top / 2);
  const right = Math.min(width, 8 * Math.ceil((part.left + part.width) / 8));
  const bottom = Math.min(height, 2 * Math.ceil((part.top + part.height) / 2));
  return { left, top, width: right - left, height: bottom - top };
}

let canvas: OffscreenCanvas | null = null;

function drawnPicture(sample: VideoSample): StoredPicture {
  const { squarePixelWidth, squarePixelHeight } = sample;
  const scale = Math.min(1, LONGEST_DRAWN_PX / Math.max(squarePixelWidth, squarePixelHeight));
  const width = Math.max(1, Math.round(squarePixelWidth * scale));
  const height = Math.max(1, Math.round(squarePixelHeight * scale));
  if (!canvas || canvas.width !== width || canvas.height !== height)
    canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d", { willReadFrequently: true });
  if (!context) throw new Error("This browser gives no 2D canvas to read pictures from.");
  // Drawn unturned, as copyTo would give it.
  const frame = sample.toVideoFrame();
  try {
    context.drawImage(frame, 0, 0, width, height);
  } finally {
    frame.close();
  }
  const { data } = context.getImageData(0, 0, width, height);
  const bytes = new Uint8Array(data.buffer);
  const layout = layoutOf("RGBA");
  if (!layout) throw new Error("The RGBA layout is missing.");
  return describeBytes(bytes, layout, [{ offset: 0, stride: width * 4 }], width, height, { model: "rgb" });
}
