import { loadPawNetwork, type PawNetworkOptions } from "./network.ts";
import type { PawNetwork, PawSighting } from "./types.ts";

/** First the options, once; then crops, answered in order. */
export type NetworkQuestion =
  | { kind: "load"; options: PawNetworkOptions }
  | { kind: "look"; rgb: Uint8Array };

export type NetworkAnswer =
  | { kind: "loaded"; inputPx: number; inputHeightPx: number; backend: string }
  | { kind: "seen"; sighting: PawSighting }
  /** A sentence for the person. */
  | { kind: "failed"; sentence: string };

const answer = (message: NetworkAnswer) => self.postMessage(message);

let network: Promise<PawNetwork> | null = null;
let turn: Promise<void> = Promise.resolve();

self.onmessage = ({ data }: MessageEvent<NetworkQuestion>) => {
  turn = turn.then(() => reply(data));
};

async function reply(question: NetworkQuestion): Promise<void> {
  try {
    if (question.kind === "load") {
      network = loadPawNetwork(question.options);
      const { inputPx, inputHeightPx, backend } = await network;
      answer({ kind: "loaded", inputPx, inputHeightPx, backend });
    } else if (network) {
      answer({ kind: "seen", sighting: await (await network).look(question.rgb) });
    }
  } catch (error) {
    answer({ kind: "failed", sentence: error instanceof Error ? error.message : String(error) });
  }
}
