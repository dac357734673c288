import type { PawNetworkOptions } from "./network.ts";
import type { NetworkAnswer, NetworkQuestion } from "./network-worker.ts";
import type { PawNetwork } from "./types.ts";

/**
 * The paw network in a worker of its own, so that pictures are decoded and cut while it thinks. Where a worker can
 * start no worker, it thinks here.
 *
 * @throws {Error} With a sentence for the person, as `loadPawNetwork` does.
 */
export async function loadPawNetworkApart(options: PawNetworkOptions = {}): Promise<PawNetwork> {
  if (typeof Worker === "undefined") {
    const { loadPawNetwork } = await import("./network.ts");
    return loadPawNetwork(options);
  }
  const worker = new Worker(new URL("./network-worker.ts", import.meta.url), {
    type: "module",
    name: "network",
  });
  const waiting: { resolve(answer: NetworkAnswer): void; reject(error: Error): void }[] = [];
  worker.onmessage = ({ data }: MessageEvent<NetworkAnswer>) => {
    const asker = waiting.shift();
    if (data.kind === "failed") asker?.reject(new Error(data.sentence));
    else asker?.resolve(data);
  };
  worker.onerror = (event) => {
    event.preventDefault();
    const error = new Error(`The paw network broke off (${event.message || "out of memory?"}). Try again.`);
    for (const asker of waiting.splice(0)) asker.reject(error);
  };
  const ask = (question: NetworkQuestion, transfer: Transferable[] = []) =>
    new Promise<NetworkAnswer>((resolve, reject) => {
      waiting.push({ resolve, reject });
      worker.postMessage(question, transfer);
    });
  try {
    const loaded = await ask({ kind: "load", options });
    if (loaded.kind !== "loaded") throw new Error("The paw network answered out of turn.");
    return {
      inputPx: loaded.inputPx,
      inputHeightPx: loaded.inputHeightPx,
      backend: loaded.backend,
      async look(rgb) {
        const seen = await ask({ kind: "look", rgb }, [rgb.buffer]);
        if (seen.kind !== "seen") throw new Error("The paw network answered out of turn.");
        return seen.sighting;
      },
      patch: loaded.patch,
      async pads(patches) {
        if (patches.length === 0) return [];
        const placed = await ask({ kind: "pads", patches }, [patches.buffer]);
        if (placed.kind !== "placed") throw new Error("The paw network answered out of turn.");
        return placed.places;
      },
      dispose: () => worker.terminate(),
    };
  } catch (error) {
    worker.terminate();
    throw error;
  }
}
