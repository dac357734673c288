import { openClip } from "../../../src/video/open.ts";
import { ClipError } from "../../../src/video/types.ts";

/** What became of a file that was opened and read, or of the stretch of it that was asked for. */
export type Outcome =
  | {
      kind: "read";
      decoder: string;
      widthPx: number;
      heightPx: number;
      rotationDeg: number;
      codec: string;
      frameCount: number;
      durationS: number;
      /** Times of the frames that came, and the number in each picture where it carries one. */
      timesS: number[];
      numbers: number[];
      warnings: string[];
    }
  | { kind: "refused"; reason: string; sentence: string }
  | { kind: "threw"; error: string };

/** Where the barcode of an odd file is, as stored. */
export interface Stored {
  widthPx: number;
  heightPx: number;
  rotationDeg: number;
}

const BITS = 12;

/** Opens the file put into the page's only field and reads it. */
async function read(options: { stored?: Stored; fromS?: number; toS?: number } = {}): Promise<Outcome> {
  const field = document.querySelector<HTMLInputElement>("#given");
  const file = field?.files?.[0];
  if (!file) throw new Error("No file was given.");
  try {
    const clip = await openClip(file);
    const { facts } = clip;
    const timesS: number[] = [];
    const numbers: number[] = [];
    const scratch = new Uint8Array(64 * 36 * 3);
    for await (const frame of clip.frames(options)) {
      timesS.push(frame.timeS);
      // What the analysis does with a frame: a small picture of the whole, and some of its ground.
      frame.rgb({ x: 0, y: 0, width: facts.widthPx, height: facts.heightPx }, 64, 36, scratch);
      if (options.stored) {
        const { stored } = options;
        const upright = stored.rotationDeg % 180 === 0 ? stored.widthPx : stored.heightPx;
        const scale = facts.widthPx / upright;
        numbers.push(
          blocks(stored).reduce((sum, { x, y }, bit) => {
            const region = { x: x * scale - 2, y: y * (scale > 3 ? scale : 1) - 2, width: 4, height: 4 };
            return (frame.grey(region, 1, 1)[0] ?? 0) > 128 ? sum | (1 << bit) : sum;
          }, 0),
        );
      }
      frame.close();
    }
    const told = structuredClone(facts);
    clip.close();
    return { kind: "read", ...told, timesS, numbers };
  } catch (error) {
    if (error instanceof ClipError) return { kind: "refused", reason: error.kind, sentence: error.message };
    return { kind: "threw", error: String(error) };
  }
}

/** Middle of each barcode block in the upright picture. */
function blocks({ widthPx, heightPx, rotationDeg }: Stored) {
  const block = Math.floor(widthPx / (BITS + 1));
  return Array.from({ length: BITS }, (_, bit) => {
    const x = block / 2 + (bit + 0.5) * block;
    const y = heightPx / 8;
    if (rotationDeg === 90) return { x: heightPx - y, y: x };
    if (rotationDeg === 180) return { x: widthPx - x, y: heightPx - y };
    return rotationDeg === 270 ? { x: y, y: widthPx - x } : { x, y };
  });
}

declare global {
  interface Window {
    field: { read: typeof read };
  }
}

window.field = { read };
