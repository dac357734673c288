import { padRegion } from "../paws/pads.ts";
import type { PawNetwork, PawPeak } from "../paws/types.ts";
import type { ClipFrame } from "../video/types.ts";
import type { FrameSighting } from "./follow.ts";

/** Where a paw's pad touches the ground by the pad network, pixels of the upright full-size picture. */
export interface PadMark {
  x: number;
  y: number;
  /** How well each is known, by what the network says itself. */
  sdXPx: number;
  sdYPx: number;
  /** 0 to 1: how much of what it says of a paw is near this place. */
  sure: number;
  /** 0 to 1: that there is a paw at all. */
  paw: number;
}

/** A paw marked in a frame, pixels of the upright full-size picture. */
export interface MarkedPaw extends PawPeak {
  /** Absent where the pad network was not asked. */
  pad?: PadMark | undefined;
}

/** Marks weaker than this are hardly ever a standing paw, and not worth a patch. */
const LEAST_SCORE = 0.15;
/** A paw on the ground lies in this lowest share of its dog's box, or below it. */
const LOW_SHARE = 0.4;
/** As many as a dog has paws: with six nothing is placed better, and each costs as much as a look's twelfth part. */
const MOST_PADS = 4;

/** The same sighting with the pads of the paws that may stand; the frame is still open. */
export async function withPads(
  network: PawNetwork,
  frame: ClipFrame,
  sighting: FrameSighting,
): Promise<FrameSighting> {
  const { patch } = network;
  const asked = worthAPatch(sighting);
  if (!patch || !network.pads || asked.length === 0) return sighting;
  const side = patch.sidePx;
  const bytes = 3 * side * side;
  const patches = new Uint8Array(asked.length * bytes);
  const regions = asked.map((peak, k) => {
    const region = padRegion(peak, sighting.box, patch);
    frame.rgb(region, side, side, patches.subarray(k * bytes, (k + 1) * bytes));
    return region;
  });
  const places = await network.pads(patches);
  const pads = new Map<MarkedPaw, PadMark>();
  asked.forEach((peak, k) => {
    const [region, place] = [regions[k]!, places[k]];
    if (!place) return;
    const scale = region.width / side;
    pads.set(peak, {
      x: region.x + place.x * scale,
      y: region.y + place.y * scale,
      sdXPx: place.sdX * scale,
      sdYPx: place.sdY * scale,
      sure: place.sure,
      paw: place.paw,
    });
  });
  return { ...sighting, peaks: sighting.peaks.map((peak) => ({ ...peak, pad: pads.get(peak) })) };
}

/** The marks whose pads are worth asking for, best first. */
function worthAPatch({ box, peaks }: FrameSighting): MarkedPaw[] {
  const fromY = box.y + (1 - LOW_SHARE) * box.height;
  return peaks
    .filter((peak) => peak.score >= LEAST_SCORE && peak.y >= fromY)
    .sort((a, b) => b.score - a.score)
    .slice(0, MOST_PADS);
}
