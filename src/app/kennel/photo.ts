/**
 * A small square picture of what was chosen, as a JPEG data URL.
 * @throws Error with a sentence when the file is no picture that this browser can show
 */
export async function smallPicture(file: Blob, sidePx = 320): Promise<string> {
  const picture = await opened(file);
  const side = Math.min(picture.width, picture.height);
  const from = [(picture.width - side) / 2, (picture.height - side) / 2, side, side] as const;
  return drawn(picture, from, sidePx, sidePx, "image/jpeg");
}

/** A logo keeps its shape and its clear ground: a PNG at most `sidePx` wide and high, as a data URL. */
export async function smallLogo(file: Blob, sidePx = 480): Promise<string> {
  const logo = await opened(file);
  const scale = Math.min(1, sidePx / Math.max(logo.width, logo.height));
  const [width, height] = [logo.width, logo.height].map((px) => Math.max(1, Math.round(px * scale)));
  return drawn(logo, [0, 0, logo.width, logo.height], width ?? 1, height ?? 1, "image/png");
}

async function opened(file: Blob): Promise<ImageBitmap> {
  try {
    return await createImageBitmap(file);
  } catch {
    throw new Error(
      "This file is not a picture that this browser can show. Choose a JPEG, PNG or WebP picture.",
    );
  }
}

async function drawn(
  picture: ImageBitmap,
  from: readonly [number, number, number, number],
  width: number,
  height: number,
  type: "image/jpeg" | "image/png",
): Promise<string> {
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  canvas.getContext("2d")?.drawImage(picture, ...from, 0, 0, width, height);
  picture.close();
  return canvas.toDataURL(type, 0.85);
}
