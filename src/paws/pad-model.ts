import type { GraphModel } from "@tensorflow/tfjs-converter";
import { type Tensor, tensor, tidy } from "@tensorflow/tfjs-core";
import type { BackendName } from "./backend.ts";
import type { PadsFacts } from "./model-files.ts";
import { agreesOnPlaces, trialPatch } from "./trial.ts";

/** Patches given to a graphics backend at once: always as many, for each new number has its programs compiled anew. */
const PADS_AT_ONCE = 4;

/**
 * The pad network's answer for patches, one after another: probabilities of its cells.
 *
 * @throws {TypeError} Where the bytes are not those of whole patches.
 */
export async function runPads(
  model: GraphModel,
  patches: Uint8Array,
  { patchPx }: PadsFacts,
  backend: BackendName,
): Promise<Float32Array[]> {
  const bytes = patchPx * patchPx * 3;
  const count = patches.length / bytes;
  if (!Number.isInteger(count)) {
    throw new TypeError(`The pad network wants patches of ${patchPx} × ${patchPx} × 3 bytes.`);
  }
  const atOnce = backend === "wasm" ? Math.max(1, count) : PADS_AT_ONCE;
  const answers: Float32Array[] = [];
  for (let done = 0; done < count; done += atOnce) {
    const batch = new Uint8Array(atOnce * bytes);
    batch.set(patches.subarray(done * bytes, (done + atOnce) * bytes));
    const places = tidy(() => model.predict(tensor(batch, [atOnce, patchPx, patchPx, 3], "int32")) as Tensor);
    const values = (await places.data()) as Float32Array;
    places.dispose();
    const cells = values.length / atOnce;
    for (let k = 0; k < Math.min(atOnce, count - done); k++) {
      answers.push(values.subarray(k * cells, (k + 1) * cells));
    }
  }
  return answers;
}

/** As many trial patches as a graphics backend is given at once: the first run on them warms it up. */
export function trialPatches({ patchPx }: PadsFacts): Uint8Array {
  const one = trialPatch(patchPx);
  const all = new Uint8Array(PADS_AT_ONCE * one.length);
  for (let k = 0; k < PADS_AT_ONCE; k++) all.set(one, k * one.length);
  return all;
}

/** Whether a backend gives the known answer, for each of the patches that it is given at once. */
export async function padsAgree(model: GraphModel, facts: PadsFacts, backend: BackendName): Promise<boolean> {
  const answers = await runPads(model, trialPatches(facts), facts, backend);
  return answers.every((cells) => agreesOnPlaces(cells, facts.trial));
}
