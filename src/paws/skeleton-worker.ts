import { hostSkeleton, type SkeletonHost } from "./skeleton.ts";
import type { Joint } from "./types.ts";

/** rgb: interleaved bytes, inputPx × inputPx × 3; null asks for the size only. */
export interface SkeletonQuestion {
  id: number;
  rgb: Uint8Array | null;
}

export interface SkeletonAnswer {
  id: number;
  inputPx: number;
  /** In pixels of the crop; empty when nothing is seen. */
  joints: Joint[];
  /** A sentence where the network cannot be had here. */
  failure?: string;
}

let host: Promise<SkeletonHost> | null = null;

self.onmessage = async ({ data }: MessageEvent<SkeletonQuestion>) => {
  const answer = (told: Omit<SkeletonAnswer, "id">) =>
    self.postMessage({ id: data.id, ...told } satisfies SkeletonAnswer);
  try {
    host ??= hostSkeleton();
    const { inputPx, pose } = await host;
    answer({ inputPx, joints: data.rgb ? await pose(data.rgb) : [] });
  } catch (error) {
    host = null;
    answer({ inputPx: 0, joints: [], failure: error instanceof Error ? error.message : String(error) });
  }
};
