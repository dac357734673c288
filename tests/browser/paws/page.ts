import { loadPawNetwork, tensorsAlive } from "../../../src/paws/network.ts";
import { hostSkeleton } from "../../../src/paws/skeleton.ts";
import { trialPicture } from "../../../src/paws/trial.ts";
import { rawMaps, rawPads } from "./raw-maps.ts";

const TRIAL_PX = 224;

/** Patches cut from a square picture, one after another. */
function cutPatches(
  picture: Uint8Array,
  sizePx: number,
  sidePx: number,
  corners: { left: number; top: number }[],
): Uint8Array {
  const patches = new Uint8Array(corners.length * sidePx * sidePx * 3);
  let to = 0;
  for (const { left, top } of corners) {
    for (let row = 0; row < sidePx; row++, to += 3 * sidePx) {
      const from = 3 * ((top + row) * sizePx + left);
      patches.set(picture.subarray(from, from + 3 * sidePx), to);
    }
  }
  return patches;
}

/** Patches of the trial picture, each about another place along its feet. */
function trialPatches(sidePx: number, count: number): Uint8Array {
  const corners = Array.from({ length: count }, (_, k) => ({ left: 20 + 17 * k, top: 130 }));
  return cutPatches(trialPicture(TRIAL_PX), TRIAL_PX, sidePx, corners);
}

/** What the test calls inside the page. */
const paws = { loadPawNetwork, tensorsAlive, hostSkeleton, rawMaps, rawPads, cutPatches, trialPatches };
export type PawsPage = typeof paws;

Object.assign(globalThis, { paws });
