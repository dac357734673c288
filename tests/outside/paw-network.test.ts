import { readFileSync } from "node:fs";
import * as tf from "@tensorflow/tfjs";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { agrees, agreesOnPlaces, trialPatch, trialPicture } from "../../src/paws/trial.ts";
import { readPng } from "./read-png.ts";

/**
 * The shipped files, read by TensorFlow.js as a whole on its plain JavaScript backend, against what PyTorch gave when
 * they were written (models/training/export.py and export_pads.py store it beside the graph).
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

  it("weighs at most 6 MB in half floats, with all that goes with it", () => {
    const others = ["skeleton.bin", "pads.bin"].map((name) => readFileSync(`models/paws/${name}`).byteLength);
    expect(others.reduce((a, b) => a + b, weights.byteLength)).toBeLessThan(6_000_000);
    const kinds = new Set(
      graph.weightsManifest.flatMap((g) => g.weights.map((w) => w.quantization?.dtype ?? w.dtype)),
    );
    expect(kinds.has("float16")).toBe(true);
  });
});

describe("the shipped pad network", () => {
  const graph = JSON.parse(readFileSync("models/paws/pads.json", "utf8")) as tf.io.ModelJSON;
  const facts = graph.userDefinedMetadata as {
    patchPx: number;
    cellPx: number;
    share: number;
    trial: { at: number[]; values: number[] };
  };
  const side = facts.patchPx;
  const cells = (side / facts.cellPx) ** 2;
  let model: tf.GraphModel;

  beforeAll(async () => {
    const weights = readFileSync("models/paws/pads.bin");
    await tf.setBackend("cpu");
    const artifacts = tf.io.getModelArtifactsForJSONSync(
      graph,
      graph.weightsManifest.flatMap((group) => group.weights),
      weights.buffer.slice(weights.byteOffset, weights.byteOffset + weights.byteLength),
    );
    model = await tf.loadGraphModel(tf.io.fromMemory(artifacts));
  });

  afterAll(() => model.dispose());

  /** Chances of each patch: of every cell, and of there being no paw. */
  const chancesOf = async (patches: tf.Tensor): Promise<Float32Array[]> => {
    const answer = model.predict(patches) as tf.Tensor;
    expect(answer.shape).toEqual([patches.shape[0], cells + 1]);
    const values = (await answer.data()) as Float32Array;
    return Array.from({ length: patches.shape[0]! }, (_, k) =>
      values.subarray(k * (cells + 1), (k + 1) * (cells + 1)),
    );
  };

  it("gives for its trial patch in TensorFlow.js what it gave in PyTorch", async () => {
    // The trial patch between two others: any number of patches is answered, each for itself.
    const patch = tf.tensor(trialPatch(side), [1, side, side, 3], "int32");
    const others = tf.zerosLike(patch);
    const [first, places] = await chancesOf(tf.concat([others, patch, others]));
    expect(places!.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 3);
    // The likeliest cell is among the known ones, and told from the others: a backend that answers nothing must not pass.
    const likeliest = Math.max(...places!.subarray(0, cells));
    expect(facts.trial.values.some((v) => Math.abs(v - likeliest) < 0.001)).toBe(true);
    expect(likeliest).toBeGreaterThan(5 / cells);
    expect(agreesOnPlaces(places!, facts.trial)).toBe(true);
    // Nor may another patch's answer, nor the right one a cell to any side.
    expect(agreesOnPlaces(first!, facts.trial)).toBe(false);
    const across = side / facts.cellPx;
    for (const by of [1, -1, across, -across]) {
      const moved = places!.map((v, i) => (i === cells ? v : (places![(i + by + cells) % cells] ?? 0)));
      expect(agreesOnPlaces(moved, facts.trial), `moved by ${by}`).toBe(false);
    }
  });

  it("gives for a real dog's paws, and for what is none, what it gave in PyTorch", async () => {
    const { rgb, width } = readPng(readFileSync("models/checks/dog.png"));
    const { size, patches } = JSON.parse(readFileSync("models/checks/pads.json", "utf8")) as {
      size: number;
      patches: { left: number; top: number; values: number[] }[];
    };
    expect(width).toBe(size);
    const picture = tf.tensor(rgb, [size, size, 3], "int32") as tf.Tensor3D;
    const cut = patches.map(({ left, top }) => tf.slice3d(picture, [top, left, 0], [side, side, 3]));
    const told = await chancesOf(tf.stack(cut));
    const off = patches.map(({ values }, k) => Math.max(...values.map((v, i) => Math.abs(v - told[k]![i]!))));
    expect(Math.max(...off)).toBeLessThan(0.001);
    // Each belongs to its own patch.
    const other = patches.map(({ values }, k) =>
      Math.max(...values.map((v, i) => Math.abs(v - told[(k + 1) % told.length]![i]!))),
    );
    expect(Math.min(...other)).toBeGreaterThan(0.01);
  });
});
