import { type GraphModel, loadGraphModel } from "@tensorflow/tfjs-converter";
import { io, memory, setBackend, type Tensor, tensor, tidy } from "@tensorflow/tfjs-core";
import { type BackendName, hardwareBackends, switchBackend, type WasmPaths } from "./backend.ts";
import { decodeMaps, type MapSet } from "./decode.ts";
import { withHeight } from "./low-graph.ts";
import { fetchModel, type MapsFacts, type PadsFacts } from "./model-files.ts";
import { padsAgree, runPads, trialPatches } from "./pad-model.ts";
import { decodePad } from "./pads.ts";
import { agrees, lowTrialPicture, type Trial, trialPicture } from "./trial.ts";
import type { PawNetwork } from "./types.ts";

export interface PawNetworkOptions {
  /** Address of another graph model with the same maps; its weights lie beside it. */
  modelUrl?: string | undefined;
  wasmPaths?: WasmPaths | undefined;
  /** Use this backend without trying others. */
  backend?: BackendName | undefined;
  /** The backend that was fastest here before: it only has to give the known answer again. */
  remembered?: BackendName | undefined;
  /** Height of the crops it will be given, a multiple of 32; square unless told otherwise. */
  heightPx?: number | undefined;
}

/** A graphics backend must be this much faster than wasm to be worth its start and its battery. */
const WORTH_SWITCHING = 0.8;
/** Timed runs of one backend stop after this long, ms. */
const TRIAL_MS = 300;
/** A graphics backend that needs longer than this for its first answer is left alone unless asked for, ms. */
const FIRST_ANSWER_MS = 4000;

/** Both networks' files and what they say of themselves. */
interface Files {
  maps: io.ModelArtifacts;
  pads: io.ModelArtifacts;
  mapsFacts: MapsFacts;
  padsFacts: PadsFacts;
}

/**
 * Loads the paw network and the pad network that goes with it, on a page or in a worker, on the backend that is
 * fastest here. Each backend tried must first give the stored answers for a known picture and patch, so that one with
 * wrong numbers is never used.
 * Throws an Error with a sentence for the reader when the files cannot be had or no backend gives right numbers.
 */
export async function loadPawNetwork(options: PawNetworkOptions = {}): Promise<PawNetwork> {
  const [maps, pads] = await Promise.all([fetchModel("maps", options.modelUrl), fetchModel("pads")]);
  const mapsFacts = maps.userDefinedMetadata as MapsFacts | undefined;
  if (!mapsFacts?.maps || !mapsFacts.inputPx) {
    throw new Error(
      "The paw network's file does not say which maps it holds. Export it again with models/training.",
    );
  }
  const padsFacts = pads.userDefinedMetadata as PadsFacts | undefined;
  if (!padsFacts?.patchPx || !padsFacts.trial) {
    throw new Error(
      "The pad network's file does not say which patches it wants. Export it again with models/training.",
    );
  }
  const heightPx = options.heightPx ?? mapsFacts.inputPx;
  if (!knownAnswer(mapsFacts, heightPx)) {
    throw new Error(`The paw network's file holds no known answer for crops ${heightPx} px high.`);
  }
  const files: Files = { maps, pads, mapsFacts, padsFacts };
  const chosen = options.remembered && (await tryBackend(options.remembered, files, options, false));
  const best = chosen || (await fastest(files, options));
  await setBackend(best.name);
  return hosted(best, files, heightPx);
}

function knownAnswer(facts: MapsFacts, heightPx: number): Trial | null {
  if (heightPx === facts.inputPx) return facts.trial;
  return facts.lowTrial.heightPx === heightPx ? facts.lowTrial : null;
}

async function fastest(files: Files, options: PawNetworkOptions): Promise<Candidate> {
  let best: Candidate | null = null;
  const tried = options.backend ? [options.backend] : ["wasm" as const, ...(await hardwareBackends())];
  for (const name of tried) {
    const candidate = await tryBackend(name, files, options, tried.length > 1);
    if (!candidate) continue;
    if (best && candidate.ms > best.ms * WORTH_SWITCHING) {
      candidate.dispose();
    } else {
      if (best) {
        await setBackend(best.name);
        best.dispose();
      }
      best = candidate;
    }
  }
  if (best) return best;
  throw new Error(
    `The paw network gives no right answer on this device (tried: ${tried.join(", ")}). ` +
      "Mark the landings by hand, or use another browser.",
  );
}

interface Candidate {
  name: BackendName;
  maps: GraphModel;
  pads: GraphModel;
  /** Median time of one crop and the patches that go with it. */
  ms: number;
  dispose(): void;
}

async function tryBackend(
  name: BackendName,
  files: Files,
  options: PawNetworkOptions,
  timed: boolean,
): Promise<Candidate | null> {
  if (!(await switchBackend(name, options.wasmPaths))) return null;
  const { mapsFacts, padsFacts } = files;
  const { inputPx } = mapsFacts;
  const heightPx = options.heightPx ?? inputPx;
  const known = knownAnswer(mapsFacts, heightPx);
  const loaded: GraphModel[] = [];
  const load = async (artifacts: io.ModelArtifacts) => {
    const model = await loadGraphModel(io.fromMemory(artifacts));
    loaded.push(model);
    return model;
  };
  const dispose = () => {
    for (const model of loaded) model.dispose();
  };
  try {
    const isLow = heightPx !== inputPx;
    const maps = await load(isLow ? withHeight(files.maps, heightPx) : files.maps);
    const pads = await load(files.pads);
    const picture = isLow ? lowTrialPicture(inputPx, heightPx) : trialPicture(inputPx);
    const begun = performance.now();
    const right =
      known !== null &&
      agrees(await run(maps, picture, inputPx, heightPx), known) &&
      (await padsAgree(pads, padsFacts, name));
    const slow = performance.now() - begun > FIRST_ANSWER_MS;
    const chosenFreely = name !== "wasm" && name !== options.backend;
    if (!right || (slow && chosenFreely)) {
      dispose();
      return null;
    }
    const times: number[] = [];
    const patches = trialPatches(padsFacts);
    const from = performance.now();
    while (timed && times.length < 5 && performance.now() - from < TRIAL_MS) {
      const t = performance.now();
      await run(maps, picture, inputPx, heightPx);
      await runPads(pads, patches, padsFacts, name);
      times.push(performance.now() - t);
    }
    times.sort((a, b) => a - b);
    return { name, maps, pads, ms: times[times.length >> 1] ?? 0, dispose };
  } catch {
    // A driver that fails half way is no worse than one that is missing: the next backend is tried.
    dispose();
    return null;
  }
}

async function run(
  model: GraphModel,
  rgb: Uint8Array,
  widthPx: number,
  heightPx: number,
): Promise<Float32Array> {
  const maps = tidy(() => model.predict(tensor(rgb, [1, heightPx, widthPx, 3], "int32")) as Tensor);
  const values = (await maps.data()) as Float32Array;
  maps.dispose();
  return values;
}

function hosted({ maps, pads, name, dispose }: Candidate, files: Files, heightPx: number): PawNetwork {
  const { mapsFacts, padsFacts } = files;
  const { inputPx, stride } = mapsFacts;
  const side = inputPx / stride;
  const bytes = inputPx * heightPx * 3;
  return {
    inputPx,
    inputHeightPx: heightPx,
    backend: name,
    async look(rgb) {
      if (rgb.length !== bytes) {
        throw new TypeError(`The network wants ${inputPx} × ${heightPx} × 3 bytes, not ${rgb.length}.`);
      }
      const values = await run(maps, rgb, inputPx, heightPx);
      const set: MapSet = { names: mapsFacts.maps, side, stride, values };
      return decodeMaps(set);
    },
    patch: { sidePx: padsFacts.patchPx, share: padsFacts.share },
    async pads(patches) {
      const answers = await runPads(pads, patches, padsFacts, name);
      return answers.map((cells) => decodePad(cells, padsFacts.cellPx));
    },
    dispose,
  };
}

/** Tensors alive in this page or worker; flat over a clip, or something leaks. */
export function tensorsAlive(): number {
  return memory().numTensors;
}
