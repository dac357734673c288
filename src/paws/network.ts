import { type GraphModel, loadGraphModel } from "@tensorflow/tfjs-converter";
import { io, memory, setBackend, type Tensor, tensor, tidy } from "@tensorflow/tfjs-core";
import { type BackendName, hardwareBackends, switchBackend, type WasmPaths } from "./backend.ts";
import { decodeMaps, type MapSet } from "./decode.ts";
import { withHeight } from "./low-graph.ts";
import { fetchModel, type MapsFacts } from "./model-files.ts";
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

/**
 * Loads the paw network, on a page or in a worker, on the backend that is fastest here. Each backend tried
 * must first give the stored answer for a known picture, so that one with wrong numbers is never used.
 * Throws an Error with a sentence for the reader when the files cannot be had or no backend gives right numbers.
 */
export async function loadPawNetwork(options: PawNetworkOptions = {}): Promise<PawNetwork> {
  const artifacts = await fetchModel("maps", options.modelUrl);
  const facts = artifacts.userDefinedMetadata as MapsFacts | undefined;
  if (!facts?.maps || !facts.inputPx) {
    throw new Error(
      "The paw network's file does not say which maps it holds. Export it again with models/training.",
    );
  }
  const heightPx = options.heightPx ?? facts.inputPx;
  if (!knownAnswer(facts, heightPx)) {
    throw new Error(`The paw network's file holds no known answer for crops ${heightPx} px high.`);
  }
  const chosen =
    options.remembered && (await tryBackend(options.remembered, artifacts, facts, options, false));
  const best = chosen || (await fastest(artifacts, facts, options));
  await setBackend(best.name);
  return hosted(best, facts, heightPx);
}

function knownAnswer(facts: MapsFacts, heightPx: number): Trial | null {
  if (heightPx === facts.inputPx) return facts.trial;
  return facts.lowTrial.heightPx === heightPx ? facts.lowTrial : null;
}

async function fastest(
  artifacts: io.ModelArtifacts,
  facts: MapsFacts,
  options: PawNetworkOptions,
): Promise<Candidate> {
  let best: Candidate | null = null;
  const tried = options.backend ? [options.backend] : ["wasm" as const, ...(await hardwareBackends())];
  for (const name of tried) {
    const candidate = await tryBackend(name, artifacts, facts, options, tried.length > 1);
    if (!candidate) continue;
    if (best && candidate.ms > best.ms * WORTH_SWITCHING) {
      candidate.model.dispose();
    } else {
      if (best) {
        await setBackend(best.name);
        best.model.dispose();
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
  model: GraphModel;
  /** Median time of one crop. */
  ms: number;
}

async function tryBackend(
  name: BackendName,
  artifacts: io.ModelArtifacts,
  facts: MapsFacts,
  options: PawNetworkOptions,
  timed: boolean,
): Promise<Candidate | null> {
  if (!(await switchBackend(name, options.wasmPaths))) return null;
  const { inputPx } = facts;
  const heightPx = options.heightPx ?? inputPx;
  const known = knownAnswer(facts, heightPx);
  let model: GraphModel | null = null;
  try {
    const isLow = heightPx !== inputPx;
    model = await loadGraphModel(io.fromMemory(isLow ? withHeight(artifacts, heightPx) : artifacts));
    const picture = isLow ? lowTrialPicture(inputPx, heightPx) : trialPicture(inputPx);
    const begun = performance.now();
    const maps = await run(model, picture, inputPx, heightPx);
    const slow = performance.now() - begun > FIRST_ANSWER_MS;
    const chosenFreely = name !== "wasm" && name !== options.backend;
    if (!known || !agrees(maps, known) || (slow && chosenFreely)) {
      model.dispose();
      return null;
    }
    const times: number[] = [];
    const from = performance.now();
    while (timed && times.length < 5 && performance.now() - from < TRIAL_MS) {
      const t = performance.now();
      await run(model, picture, inputPx, heightPx);
      times.push(performance.now() - t);
    }
    times.sort((a, b) => a - b);
    return { name, model, ms: times[times.length >> 1] ?? 0 };
  } catch {
    // A driver that fails half way is no worse than one that is missing: the next backend is tried.
    model?.dispose();
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

function hosted({ model, name }: Candidate, facts: MapsFacts, heightPx: number): PawNetwork {
  const { inputPx } = facts;
  const side = inputPx / facts.stride;
  const bytes = inputPx * heightPx * 3;
  return {
    inputPx,
    inputHeightPx: heightPx,
    backend: name,
    async look(rgb) {
      if (rgb.length !== bytes) {
        throw new TypeError(`The network wants ${inputPx} × ${heightPx} × 3 bytes, not ${rgb.length}.`);
      }
      const values = await run(model, rgb, inputPx, heightPx);
      const set: MapSet = { names: facts.maps, side, stride: facts.stride, values };
      return decodeMaps(set);
    },
    dispose: () => model.dispose(),
  };
}

/** Tensors alive in this page or worker; flat over a clip, or something leaks. */
export function tensorsAlive(): number {
  return memory().numTensors;
}
