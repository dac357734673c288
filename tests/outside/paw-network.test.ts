import { readFileSync } from "node:fs";
import * as tf from "@tensorflow/tfjs";
import { describe, expect, it } from "vitest";
import { agrees, trialPicture } from "../../src/paws/trial.ts";

/**
 * The shipped files, read by TensorFlow.js as a whole on its plain JavaScript backend, against what PyTorch gave when
 * they were written (models/training/export.py stores it beside the graph).
 */
describe("the shipped paw network", () => {
  const graph = JSON.parse(readFileSync("models/paws/paws.json", "utf8")) as tf.io.ModelJSON;
  const facts = graph.userDefinedMetadata as {
    inputPx: number;
    maps: string[];
    stride: number;
    trial: { at: number[]; values: number[] };
  };
  const weights = readFileSync("models/paws/paws.bin");

  it("gives in TensorFlow.js what it gave in PyTorch", async () => {
    await tf.setBackend("cpu");
    const artifacts = tf.io.getModelArtifactsForJSONSync(
      graph,
      graph.weightsManifest.flatMap((group) => group.weights),
      weights.buffer.slice(weights.byteOffset, weights.byteOffset + weights.byteLength),
    );
    const model = await tf.loadGraphModel(tf.io.fromMemory(artifacts));
    const picture = tf.tensor(trialPicture(facts.inputPx), [1, facts.inputPx, facts.inputPx, 3], "int32");
    const maps = (await (model.predict(picture) as tf.Tensor).data()) as Float32Array;
    expect(maps.length).toBe((facts.inputPx / facts.stride) ** 2 * facts.maps.length);
    // Every map is stirred somewhere: a backend that answers nothing must not pass.
    expect(facts.trial.values.filter((v) => v > 0.5).length).toBeGreaterThanOrEqual(12);
    expect(agrees(maps, facts.trial)).toBe(true);
    // A test that cannot fail proves nothing: another picture must not agree.
    const other = tf.zerosLike(picture);
    expect(agrees((await (model.predict(other) as tf.Tensor).data()) as Float32Array, facts.trial)).toBe(
      false,
    );
    model.dispose();
  });

  it("weighs at most 6 MB in half floats", () => {
    const skeleton = readFileSync("models/paws/skeleton.bin");
    expect(weights.byteLength + skeleton.byteLength).toBeLessThan(6_000_000);
    const kinds = new Set(
      graph.weightsManifest.flatMap((g) => g.weights.map((w) => w.quantization?.dtype ?? w.dtype)),
    );
    expect(kinds.has("float16")).toBe(true);
  });
});
