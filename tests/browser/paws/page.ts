import { findDog } from "../../../src/paws/find-dog.ts";
import { loadPawNetwork, tensorsAlive } from "../../../src/paws/network.ts";
import { hostSkeleton } from "../../../src/paws/skeleton.ts";
import { rawMaps } from "./raw-maps.ts";

/** Looks for the dog of a picture that is laid into a larger plain frame at x, y, side × side. */
async function findIn(
  bitmap: ImageBitmap | null,
  frame: { widthPx: number; heightPx: number },
  x: number,
  y: number,
  side: number,
) {
  const whole = new OffscreenCanvas(frame.widthPx, frame.heightPx);
  const context = whole.getContext("2d")!;
  context.fillStyle = "rgb(126, 132, 118)";
  context.fillRect(0, 0, frame.widthPx, frame.heightPx);
  if (bitmap) context.drawImage(bitmap, x, y, side, side);
  const network = await loadPawNetwork({ backend: "wasm" });
  const found = await findDog(
    network,
    {
      rgb(region, width, height) {
        const cut = new OffscreenCanvas(width, height).getContext("2d")!;
        cut.imageSmoothingQuality = "high";
        cut.drawImage(whole, region.x, region.y, region.width, region.height, 0, 0, width, height);
        return Uint8Array.from(cut.getImageData(0, 0, width, height).data.filter((_, i) => i % 4 !== 3));
      },
    },
    frame,
  );
  network.dispose();
  return found;
}

/** What the test calls inside the page. */
const paws = { loadPawNetwork, tensorsAlive, hostSkeleton, rawMaps, findIn };
export type PawsPage = typeof paws;

Object.assign(globalThis, { paws });
