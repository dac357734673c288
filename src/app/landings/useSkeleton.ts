import { useEffect, useRef, useState } from "react";
import { placeCrop } from "../../paws/crop.ts";
import type { SkeletonAnswer, SkeletonQuestion } from "../../paws/skeleton-worker.ts";
import type { Joint } from "../../paws/types.ts";
import type { SeenDog } from "../../pipeline/types.ts";

export interface Skeleton {
  /** Joints in pixels of the upright full-size picture; empty while none is asked for or seen. */
  joints: Joint[];
  /** What to say of it, a sentence; null when there is nothing to say. */
  told: string | null;
}

/** Boxes farther in time than this from the shown frame are another moment's. */
const SAME_MOMENT_S = 0.05;
/** Waiting for the finger to rest on a frame spares looks at frames that only fly by, ms. */
const REST_MS = 120;

/** The skeleton that the network sees in the shown frame, looked for in a worker while `on`. */
export function useSkeleton(
  on: boolean,
  shown: { bitmap: ImageBitmap; timeS: number } | null,
  picture: { widthPx: number; heightPx: number },
  dogs: readonly SeenDog[],
): Skeleton {
  const [skeleton, setSkeleton] = useState<Skeleton>({ joints: [], told: null });
  const worker = useRef<Worker | null>(null);
  const asked = useRef(0);

  useEffect(() => {
    if (!on) return;
    worker.current = new Worker(new URL("../../paws/skeleton-worker.ts", import.meta.url), {
      type: "module",
      name: "skeleton",
    });
    return () => {
      worker.current?.terminate();
      worker.current = null;
    };
  }, [on]);

  const { widthPx, heightPx } = picture;
  useEffect(() => {
    const id = ++asked.current;
    if (!on || !shown) {
      setSkeleton({ joints: [], told: null });
      return;
    }
    const dog = dogs.find((d) => Math.abs(d.timeS - shown.timeS) < SAME_MOMENT_S);
    if (!dog) {
      setSkeleton({ joints: [], told: "No dog was seen in this frame." });
      return;
    }
    const rest = setTimeout(async () => {
      const ask = (rgb: Uint8Array | null) => answerOf(worker.current, { id, rgb });
      const size = await ask(null);
      if (!size || asked.current !== id) return;
      if (size.failure) {
        setSkeleton({ joints: [], told: size.failure });
        return;
      }
      const crop = placeCrop(dog.box, { widthPx, heightPx });
      const seen = await ask(pixelsOf(shown.bitmap, crop, widthPx, size.inputPx));
      if (!seen || asked.current !== id) return;
      const scale = crop.width / size.inputPx;
      setSkeleton({
        joints: seen.joints.map((j) => ({ ...j, x: crop.x + j.x * scale, y: crop.y + j.y * scale })),
        told: seen.failure ?? null,
      });
    }, REST_MS);
    return () => clearTimeout(rest);
  }, [on, shown, dogs, widthPx, heightPx]);

  return skeleton;
}

function answerOf(worker: Worker | null, question: SkeletonQuestion): Promise<SkeletonAnswer | null> {
  return new Promise((resolve) => {
    if (!worker) return resolve(null);
    const listen = ({ data }: MessageEvent<SkeletonAnswer>) => {
      if (data.id !== question.id) return;
      worker.removeEventListener("message", listen);
      resolve(data);
    };
    worker.addEventListener("message", listen);
    worker.postMessage(question);
  });
}

function pixelsOf(
  bitmap: ImageBitmap,
  crop: { x: number; y: number; width: number; height: number },
  widthPx: number,
  inputPx: number,
): Uint8Array {
  const canvas = new OffscreenCanvas(inputPx, inputPx);
  const context = canvas.getContext("2d", { willReadFrequently: true });
  if (!context) throw new Error("This browser gives no drawing surface.");
  const scale = bitmap.width / widthPx;
  context.imageSmoothingQuality = "high";
  context.drawImage(
    bitmap,
    crop.x * scale,
    crop.y * scale,
    crop.width * scale,
    crop.height * scale,
    0,
    0,
    inputPx,
    inputPx,
  );
  const { data } = context.getImageData(0, 0, inputPx, inputPx);
  const rgb = new Uint8Array(inputPx * inputPx * 3);
  for (let i = 0; i < inputPx * inputPx; i++) rgb.set(data.subarray(4 * i, 4 * i + 3), 3 * i);
  return rgb;
}
