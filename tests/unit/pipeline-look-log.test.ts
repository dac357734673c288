import "fake-indexeddb/auto";
import { describe, expect, it, vi } from "vitest";
import type { PawNetwork } from "../../src/paws/types.ts";
import { openLookLog } from "../../src/pipeline/look-log.ts";

/** A network that says of a crop how bright it is, and of patches how many and how bright they are. */
function network() {
  const look = vi.fn(async (rgb: Uint8Array) => ({
    peaks: [],
    joints: [],
    dogScore: rgb[0]! / 255,
    dogBox: null,
  }));
  const pads = vi.fn(async (patches: Uint8Array) =>
    Array.from(
      patches.filter((_, i) => i % 12 === 0),
      (x) => ({ x, y: 1, sdX: 1, sdY: 1, sure: 0.9, paw: 1 }),
    ),
  );
  const whole: PawNetwork = {
    inputPx: 2,
    inputHeightPx: 2,
    backend: "none",
    patch: { sidePx: 2, share: 0.4 },
    look,
    pads,
    dispose: () => {},
  };
  return { look, pads, whole };
}

const crop = (k: number) => new Uint8Array(12).fill(k);
const patches = (...levels: number[]) => Uint8Array.from(levels.flatMap((level) => [...crop(level)]));

/** Looks with the patches of each; every fourth look has what came before it written. */
async function analyse(asked: PawNetwork, looks = 8) {
  const said = [];
  for (let k = 0; k < looks; k++) {
    said.push(await asked.look(crop(k)));
    said.push(await asked.pads?.(patches(k, k + 100)));
  }
  return said;
}

/** Writing is not waited for by the analysis; the next opening of the log comes after it. */
const written = () => new Promise((resolve) => setTimeout(resolve, 50));

describe("the log of what the networks said in a clip", () => {
  it("answers crops and patches that were seen before, each with its own, without asking again", async () => {
    const first = network();
    const told = await analyse((await openLookLog("a", "one")).behind(first.whole));
    await written();
    const second = network();
    const log = await openLookLog("a", "one");
    const again = await analyse(log.behind(second.whole));
    expect(again).toEqual(told);
    expect(again[5]).toMatchObject([{ x: 2 }, { x: 102 }]);
    expect(second.look).not.toHaveBeenCalled();
    expect(log.takenUp).toBe(8);
    // The pads of the last look written were answered after it was.
    expect(second.pads.mock.calls.map(([shown]) => shown[0])).toEqual([7]);
  });

  it("never gives other patches an old answer, be they fewer, more or in another order", async () => {
    await analyse((await openLookLog("b", "one")).behind(network().whole));
    await written();
    const asked = network();
    const behind = (await openLookLog("b", "one")).behind(asked.whole);
    for (const other of [patches(2), patches(102, 2), patches(2, 102, 2), patches(2, 103)]) {
      expect(await behind.pads?.(other)).toEqual(await network().whole.pads?.(other));
    }
    expect(asked.pads).toHaveBeenCalledTimes(4);
  });

  it("keeps the answers of other weights or other code, and of another clip, apart", async () => {
    await analyse((await openLookLog("c", "one")).behind(network().whole));
    await written();
    for (const [clip, program] of [
      ["c", "two"],
      ["d", "one"],
    ] as const) {
      const asked = network();
      await analyse((await openLookLog(clip, program)).behind(asked.whole));
      expect(asked.look).toHaveBeenCalledTimes(8);
      expect(asked.pads).toHaveBeenCalledTimes(8);
    }
  });

  it("brings no pads to a network that knows none", async () => {
    const { pads: _, patch: __, ...plain } = network().whole;
    const behind = (await openLookLog("e", "one")).behind(plain);
    expect(behind.pads).toBeUndefined();
    expect((await behind.look(crop(51))).dogScore).toBeCloseTo(0.2, 3);
  });
});
