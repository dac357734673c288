import type { VideoSample } from "mediabunny";
import { describeBytes, layoutOf, type StoredPicture, yuvColour } from "./channels.ts";

/** Pictures that can only be read by drawing are drawn no longer than this. */
const LONGEST_DRAWN_PX = 1920;

/** Byte arrays handed back by closed frames, for the frames to come; all of one size. */
export class BytePool {
  #free: Uint8Array[] = [];
  #size = 0;

  take(size: number): Uint8Array {
    if (size !== this.#size) this.#free = [];
    this.#size = size;
    return this.#free.pop() ?? new Uint8Array(size);
  }

  give(bytes: Uint8Array): void {
    if (bytes.length === this.#size && this.#free.length < MOST_FREE) this.#free.push(bytes);
  }
}

/** More than a consumer holds at once; at 4K these are 100 MB. */
const MOST_FREE = 8;

/**
 * Copies a decoded picture into our memory as it is stored (not turned). Planes are copied as they are where the
 * browser lets us; a picture that stays on the graphics card in a format of its own is drawn and read back.
 */
export async function copyPicture(sample: VideoSample, pool: BytePool): Promise<StoredPicture> {
  const layout = layoutOf(sample.format);
  if (layout) {
    const bytes = pool.take(sample.allocationSize());
    const planes = await sample.copyTo(bytes as Uint8Array<ArrayBuffer>);
    const { codedWidth: width, codedHeight: height, colorSpace } = sample;
    const colour =
      layout.model === "rgb"
        ? ({ model: "rgb" } as const)
        : yuvColour(colorSpace.matrix, colorSpace.fullRange ?? false);
    return describeBytes(bytes, layout, planes, width, height, colour);
  }
  return drawnPicture(sample);
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
