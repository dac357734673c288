import { loadGraphModel } from "@tensorflow/tfjs-converter";
import { io, type Tensor, tensor } from "@tensorflow/tfjs-core";
import { switchBackend } from "../../../src/paws/backend.ts";
import { fetchModel, type MapsFacts, type PadsFacts } from "../../../src/paws/model-files.ts";
import { runPads } from "../../../src/paws/pad-model.ts";

/** The shipped graph's output on wasm, before any decoding. */
export async function rawMaps(rgb: Uint8Array): Promise<number[]> {
  if (!(await switchBackend("wasm"))) throw new Error("no wasm here");
  const artifacts = await fetchModel("maps");
  const { inputPx } = artifacts.userDefinedMetadata as unknown as MapsFacts;
  const model = await loadGraphModel(io.fromMemory(artifacts));
  const maps = model.predict(tensor(rgb, [1, inputPx, inputPx, 3], "int32")) as Tensor;
  const values = [...(await maps.data())];
  maps.dispose();
  model.dispose();
  return values;
}

/** The shipped pad network's chances for patches on wasm, before any reading. */
export async function rawPads(patches: Uint8Array): Promise<number[][]> {
  if (!(await switchBackend("wasm"))) throw new Error("no wasm here");
  const artifacts = await fetchModel("pads");
  const model = await loadGraphModel(io.fromMemory(artifacts));
  const facts = artifacts.userDefinedMetadata as unknown as PadsFacts;
  const answers = await runPads(model, patches, facts, "wasm");
  model.dispose();
  return answers.map((chances) => [...chances]);
}
