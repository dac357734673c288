import { describe, expect, it } from "vitest";
import type { PadPlace, PawNetwork, PawPeak } from "../../src/paws/types.ts";
import { createFollower, type FrameSighting } from "../../src/pipeline/follow.ts";
import { withPads } from "../../src/pipeline/pads.ts";
import type { ClipFrame, Region } from "../../src/video/types.ts";

const SIDE = 8;
const BYTES = 3 * SIDE * SIDE;

/** A frame whose samples name the call that took them, and what it was asked for. */
function frameAt(timeS = 0) {
  const regions: Region[] = [];
  let closed = false;
  const sample = (region: Region, length: number, out?: Uint8Array) => {
    if (closed) throw new Error("The frame is closed.");
    regions.push(region);
    return (out ?? new Uint8Array(length)).fill(regions.length);
  };
  const frame: ClipFrame = {
    index: 0,
    timeS,
    // Something moves everywhere, all the time.
    grey: (_region, width, height) => new Uint8Array(width * height).fill((timeS * 1000) % 251),
    rgb: (region, width, height, out) => sample(region, 3 * width * height, out),
    close: () => {
      closed = true;
    },
  };
  return { frame, regions };
}

/** A network whose every pad lies at the middle of the patch's lower edge, 1 px and 2 px sure. */
function networkWith(found: Partial<PadPlace> = {}) {
  const shown: Uint8Array[] = [];
  const network: PawNetwork = {
    inputPx: 224,
    inputHeightPx: 160,
    backend: "none",
    look: async () => ({
      peaks: [peak(112, 100, 0.9)],
      joints: [],
      dogScore: 1,
      dogBox: { x: 40, y: 40, width: 144, height: 80 },
    }),
    patch: { sidePx: SIDE, share: 0.4 },
    async pads(patches) {
      shown.push(patches.slice());
      return Array.from({ length: patches.length / BYTES }, () => ({
        x: SIDE / 2,
        y: SIDE,
        sdX: 1,
        sdY: 2,
        sure: 0.8,
        paw: 0.9,
        ...found,
      }));
    },
    dispose: () => {},
  };
  return { network, shown };
}

const peak = (x: number, y: number, score: number): PawPeak => ({ x, y, score, hind: 0.5, contact: 0.5 });

/** A dog 200 px high: patches are 80 px. */
const dog = (peaks: PawPeak[]): FrameSighting => ({
  box: { x: 100, y: 100, width: 300, height: 200 },
  dogScore: 1,
  cut: false,
  peaks,
});

describe("pads of the paws in a frame", () => {
  it("lie where the network sees them in the patch about the mark, in pixels of the frame", async () => {
    const { frame, regions } = frameAt();
    const { peaks } = await withPads(networkWith().network, frame, dog([peak(150, 280, 0.9)]));
    expect(regions).toEqual([{ x: 110, y: 240, width: 80, height: 80 }]);
    expect(peaks).toEqual([
      { ...peak(150, 280, 0.9), pad: { x: 150, y: 320, sdXPx: 10, sdYPx: 20, sure: 0.8, paw: 0.9 } },
    ]);
  });

  it("are asked for low and likely marks, four at most, the best first, each with its own patch", async () => {
    const low = Array.from({ length: 8 }, (_, k) => peak(110 + 30 * k, 290, 0.2 + 0.05 * k));
    const high = peak(200, 215, 0.9);
    const faint = peak(300, 290, 0.14);
    const below = peak(200, 330, 0.8);
    const { frame, regions } = frameAt();
    const { network, shown } = networkWith();
    const { peaks } = await withPads(network, frame, dog([...low, high, faint, below]));
    const asked = [below, low[7], low[6], low[5]];
    expect(regions.map((r) => r.x + 40)).toEqual(asked.map((p) => p!.x));
    // One call for all; every patch holds what its own sampling gave.
    expect(shown).toHaveLength(1);
    expect([1, 2, 3, 4].map((k) => shown[0]![k * BYTES - 1])).toEqual([1, 2, 3, 4]);
    expect(shown[0]).toHaveLength(4 * BYTES);
    expect(peaks.flatMap((p, k) => (p.pad ? [k] : []))).toEqual([5, 6, 7, 10]);
    expect(peaks.map(({ x, y }) => [x, y])).toEqual([...low, high, faint, below].map(({ x, y }) => [x, y]));
  });

  it("are not asked for where no paw may stand or where no pad network is", async () => {
    const { frame, regions } = frameAt();
    const { network, shown } = networkWith();
    const { pads: _, patch: __, ...plain } = network;
    for (const [asked, sighting] of [
      [network, dog([])],
      [network, dog([peak(200, 110, 0.9)])],
      [plain, dog([peak(150, 280, 0.9)])],
    ] as const) {
      expect(await withPads(asked, frame, sighting)).toBe(sighting);
    }
    expect(regions).toEqual([]);
    expect(shown).toEqual([]);
  });

  it("come with the looks at a dog that is followed", async () => {
    const where = { tiles: [{ x: 0, y: 0, width: 640, height: 457 }], plausible: () => true };
    const follower = createFollower(networkWith().network, { widthPx: 640, heightPx: 480 }, where);
    // Nothing is known to move before there are two frames.
    expect(await follower.look(frameAt(0).frame, true)).toBeNull();
    const { frame, regions } = frameAt(0.2);
    const seen = await follower.look(frame, true);
    const [paw] = seen!.peaks;
    const patch = regions.at(-1)!;
    expect(patch.width).toBeCloseTo(0.4 * seen!.box.height, 6);
    expect(paw!.pad!.x).toBeCloseTo(paw!.x, 6);
    expect(paw!.pad!.y).toBeCloseTo(paw!.y + patch.height / 2, 6);
  });
});
