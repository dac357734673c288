import { type InputVideoTrack, VideoSampleSink } from "mediabunny";
import type { StoredPicture } from "./channels.ts";
import { BytePool, copyPicture } from "./frame-bytes.ts";
import type { PacketList } from "./packets.ts";
import { TIME_TOLERANCE_S } from "./timing.ts";
import { unstalled } from "./unstalled.ts";

/** Frames decoded to see whether the browser can, and whether pictures repeat. */
const TRIAL_FRAMES = 24;

/**
 * Decodes a short stretch from the middle of a track.
 *
 * @returns For each frame but the first how far its picture differs from the one before (mean difference of luma);
 * null when the browser could decode nothing, neither there nor at the start.
 */
export async function tryDecoding(track: InputVideoTrack, packets: PacketList): Promise<number[] | null> {
  const middle = packets.timesS[packets.timesS.length >> 1] ?? 0;
  const keyBefore = packets.keyTimesS.findLast((timeS) => timeS <= middle) ?? Number.NEGATIVE_INFINITY;
  return (await decodeFrom(track, keyBefore)) ?? (await decodeFrom(track, Number.NEGATIVE_INFINITY));
}

async function decodeFrom(track: InputVideoTrack, startS: number): Promise<number[] | null> {
  const pool = new BytePool();
  const differences: number[] = [];
  let before: StoredPicture | null = null;
  try {
    for await (const sample of unstalled(new VideoSampleSink(track).samples(startS + TIME_TOLERANCE_S))) {
      const picture: StoredPicture = await copyPicture(sample, pool).finally(() => sample.close());
      if (before) {
        differences.push(difference(before, picture));
        pool.give(before.channels[0].bytes);
      }
      before = picture;
      if (differences.length >= TRIAL_FRAMES) break;
    }
  } catch {
    // A stretch cut short by damage still shows that the browser can decode.
  }
  return before ? differences : null;
}

function difference(a: StoredPicture, b: StoredPicture): number {
  const one = a.channels[0];
  const other = b.channels[0];
  let sum = 0;
  let count = 0;
  for (let row = 0; row < one.height; row += 3) {
    const from = one.offset + row * one.stride;
    const to = from + one.width * one.step;
    for (let at = from; at < to; at += 2) {
      sum += Math.abs((one.bytes[at] as number) - (other.bytes[at] as number));
      count++;
    }
  }
  return sum / count;
}
