/** A picture of one (grey) or three (red, green, blue, interleaved) bytes a pixel, row by row. */
export interface Picture {
  data: Uint8Array | Uint8ClampedArray;
  width: number;
  height: number;
  channels: 1 | 3;
}

/** Value of a channel between pixels, bilinear; coordinates are pixel centres at whole numbers, clamped to the picture. */
export function sampleAt(picture: Picture, x: number, y: number, channel = 0): number {
  const { data, width, height, channels } = picture;
  const cx = Math.max(0, Math.min(width - 1.001, x));
  const cy = Math.max(0, Math.min(height - 1.001, y));
  const [ix, iy] = [Math.floor(cx), Math.floor(cy)];
  const [fx, fy] = [cx - ix, cy - iy];
  const at = (iy * width + ix) * channels + channel;
  const below = iy + 1 < height ? at + width * channels : at;
  const right = ix + 1 < width ? channels : 0;
  return (
    (data[at]! * (1 - fx) + data[at + right]! * fx) * (1 - fy) +
    (data[below]! * (1 - fx) + data[below + right]! * fx) * fy
  );
}
