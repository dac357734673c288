import { loadPawNetwork, type PawNetworkOptions } from "./network.ts";
import type { PadPatch, PadPlace, PawNetwork, PawSighting } from "./types.ts";

/** First the options, once; then crops and patches, answered in order. */
export type NetworkQuestion =
  | { kind: "load"; options: PawNetworkOptions }
  | { kind: "look"; rgb: Uint8Array }
  | { kind: "pads"; patches: Uint8Array };

export type NetworkAnswer =
  | {
      kind: "loaded";
      inputPx: number;
      inputHeightPx: number;
      backend: string;
      patch: PadPatch | undefined;
    }
  | { kind: "seen"; sighting: PawSighting }
  | { kind: "placed"; places: PadPlace[] }
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
      const { inputPx, inputHeightPx, backend, patch } = await network;
      answer({ kind: "loaded", inputPx, inputHeightPx, backend, patch });
    } else if (network && question.kind === "look") {
      answer({ kind: "seen", sighting: await (await network).look(question.rgb) });
    } else if (network && question.kind === "pads") {
      answer({ kind: "placed", places: (await (await network).pads?.(question.patches)) ?? [] });
    }
  } catch (error) {
    answer({ kind: "failed", sentence: error instanceof Error ? error.message : String(error) });
  }
}
