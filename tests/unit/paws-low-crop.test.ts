import { readFileSync } from "node:fs";
import { io } from "@tensorflow/tfjs-core";
import { expect, it } from "vitest";
import { withHeight } from "../../src/paws/low-graph.ts";

it("the shipped network is cut to a lower crop without touching a weight but the sizes it enlarges to", () => {
  const graph = JSON.parse(readFileSync("models/paws/paws.json", "utf8")) as io.ModelJSON;
  const bytes = readFileSync("models/paws/paws.bin");
  const square = io.getModelArtifactsForJSONSync(
    graph,
    graph.weightsManifest.flatMap((group) => group.weights),
    bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength),
  );
  const low = new Uint8Array(withHeight(square, 160).weightData as ArrayBuffer);
  const changed = [...bytes].flatMap((value, at) => (value === low[at] ? [] : [[value, low[at]]]));
  // Three enlarging layers, to a 16th, an 8th and a 4th of the height: 14, 28 and 56 rows become 10, 20 and 40.
  expect(changed).toEqual([
    [14, 10],
    [28, 20],
    [56, 40],
  ]);
});
