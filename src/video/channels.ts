/** One colour channel of a stored picture: a view into bytes that several channels may share. */
export interface Channel {
  bytes: Uint8Array;
  /** Index of the first sample. */
  offset: number;
  /** Bytes from one row to the next. */
  stride: number;
  /** Bytes from one sample to the next in a row. */
  step: number;
  width: number;
  height: number;
  /** Samples of this channel for each pixel of the stored picture: 1, or 0.5 for halved chroma. */
  scaleX: number;
  scaleY: number;
}

/** How the three channels turn into red, green and blue. */
export type Colour =
  | { model: "rgb" }
  | { model: "yuv"; matrix: "bt601" | "bt709" | "bt2020"; fullRange: boolean };

/** A decoded picture as it is stored: eight bits a sample, not yet turned upright. */
export interface StoredPicture {
  width: number;
  height: number;
  /** Y, U, V or R, G, B. */
  channels: [Channel, Channel, Channel];
  colour: Colour;
}

/** How one pixel format lays its samples out. */
interface Layout {
  model: "rgb" | "yuv";
  /** Chroma samples per pixel across and down (1 or 0.5). */
  chromaX: number;
  chromaY: number;
  bits: 8 | 10 | 12;
  /** For three separate planes null; else the order of samples within the interleaved plane. */
  order: [number, number, number] | "nv" | null;
}

const planar = (chromaX: number, chromaY: number, bits: 8 | 10 | 12): Layout => ({
  model: "yuv",
  chromaX,
  chromaY,
  bits,
  order: null,
});

const packed = (order: [number, number, number]): Layout => ({
  model: "rgb",
  chromaX: 1,
  chromaY: 1,
  bits: 8,
  order,
});

const semiPlanar: Layout = { model: "yuv", chromaX: 0.5, chromaY: 0.5, bits: 8, order: "nv" };

/** Pixel formats of WebCodecs (https://www.w3.org/TR/webcodecs/#pixel-format), less their alpha. */
const LAYOUTS: Record<string, Layout> = {
  I420: planar(0.5, 0.5, 8),
  I420P10: planar(0.5, 0.5, 10),
  I420P12: planar(0.5, 0.5, 12),
  I422: planar(0.5, 1, 8),
  I422P10: planar(0.5, 1, 10),
  I422P12: planar(0.5, 1, 12),
  I444: planar(1, 1, 8),
  I444P10: planar(1, 1, 10),
  I444P12: planar(1, 1, 12),
  NV12: semiPlanar,
  RGBA: packed([0, 1, 2]),
  RGBX: packed([0, 1, 2]),
  BGRA: packed([2, 1, 0]),
  BGRX: packed([2, 1, 0]),
};

/** Layout of a pixel format; null for formats that can only be read by drawing. */
export function layoutOf(format: string | null): Layout | null {
  return LAYOUTS[(format ?? "").replace(/^(I4\d\d|NV12)A/, "$1")] ?? null;
}

/**
 * Describes bytes filled by VideoFrame.copyTo. Samples of more than eight bits are first brought to eight in place.
 *
 * @param planes Offset and stride of each plane in bytes, as copyTo returns them.
 */
export function describeBytes(
  bytes: Uint8Array,
  layout: Layout,
  planes: { offset: number; stride: number }[],
  width: number,
  height: number,
  colour: Colour,
): StoredPicture {
  const chromaWidth = Math.ceil(width * layout.chromaX);
  const chromaHeight = Math.ceil(height * layout.chromaY);
  const plane = (index: number) => {
    const found = planes[index];
    if (!found) throw new RangeError(`The decoded picture has no plane ${index}.`);
    return found;
  };
  const luma = { width, height, scaleX: 1, scaleY: 1 };
  const chroma = {
    width: chromaWidth,
    height: chromaHeight,
    scaleX: layout.chromaX,
    scaleY: layout.chromaY,
  };
  if (Array.isArray(layout.order)) {
    const { offset, stride } = plane(0);
    const channel = (at: number): Channel => ({ bytes, offset: offset + at, stride, step: 4, ...luma });
    const [r, g, b] = layout.order;
    return { width, height, channels: [channel(r), channel(g), channel(b)], colour };
  }
  if (layout.order === "nv") {
    const y: Channel = { bytes, ...plane(0), step: 1, ...luma };
    const { offset, stride } = plane(1);
    const u: Channel = { bytes, offset, stride, step: 2, ...chroma };
    return { width, height, channels: [y, u, { ...u, offset: offset + 1 }], colour };
  }
  const channels = [0, 1, 2].map((index): Channel => {
    const size = index === 0 ? luma : chroma;
    const { offset, stride } = plane(index);
    if (layout.bits === 8) return { bytes, offset, stride, step: 1, ...size };
    narrow(bytes, offset, stride, size.width, size.height, layout.bits);
    return { bytes, offset, stride, step: 1, ...size };
  });
  return { width, height, channels: channels as [Channel, Channel, Channel], colour };
}

/**
 * A picture of which only a part was copied, as the whole picture of the given size: its channels begin before their
 * bytes, and only samples within the part may be read.
 */
export function partOf(
  part: StoredPicture,
  at: { left: number; top: number },
  width: number,
  height: number,
): StoredPicture {
  const channels = part.channels.map((channel) => ({
    ...channel,
    offset:
      channel.offset - at.top * channel.scaleY * channel.stride - at.left * channel.scaleX * channel.step,
    width: Math.ceil(width * channel.scaleX),
    height: Math.ceil(height * channel.scaleY),
  }));
  return { ...part, width, height, channels: channels as StoredPicture["channels"] };
}

/** Brings little-endian samples of `bits` bits to bytes, each row written over its own start. */
function narrow(
  bytes: Uint8Array,
  offset: number,
  stride: number,
  width: number,
  height: number,
  bits: number,
): void {
  const drop = bits - 8;
  for (let row = 0; row < height; row++) {
    const start = offset + row * stride;
    for (let x = 0; x < width; x++) {
      const low = bytes[start + 2 * x] ?? 0;
      const high = bytes[start + 2 * x + 1] ?? 0;
      bytes[start + x] = ((high << 8) | low) >> drop;
    }
  }
}

/**
 * Colour of a picture from the names used by WebCodecs ("bt709", "smpte170m", "bt470bg", "bt2020-ncl") or ffmpeg
 * ("bt2020nc"). A picture that does not say is taken as BT.709, as mediabunny takes it, so that both ways of decoding
 * give the same colours.
 */
export function yuvColour(matrix: string | null, fullRange: boolean): Colour {
  const known = (matrix ?? "").startsWith("bt2020")
    ? "bt2020"
    : matrix === "smpte170m" || matrix === "bt470bg"
      ? "bt601"
      : "bt709";
  return { model: "yuv", matrix: known, fullRange };
}
