import { io } from "@tensorflow/tfjs-core";

/**
 * The same network for a crop of another height (a multiple of 32): all of its layers slide over the picture, so
 * that only the size asked of the input and those written into the enlarging layers change. A dog seen from the side
 * is half as high as long, and rows of sky cost as much as rows of paws.
 */
export function withHeight(artifacts: io.ModelArtifacts, heightPx: number): io.ModelArtifacts {
  const topology = structuredClone(artifacts.modelTopology) as { node: GraphNode[] };
  const input = topology.node.find((node) => node.op === "Placeholder");
  const rows = input?.attr?.shape?.shape?.dim?.[1];
  if (!rows) throw new Error("The paw network's file has no input of a known size.");
  const factor = heightPx / Number(rows.size);
  rows.size = String(heightPx);
  const weights = io.CompositeArrayBuffer.join(artifacts.weightData as ArrayBuffer | ArrayBuffer[]).slice(0);
  for (const node of topology.node.filter(({ op }) => op === "ResizeBilinear")) {
    const at = placeOf(artifacts.weightSpecs ?? [], node.input?.[1] ?? "");
    const size = new DataView(weights, at, 4);
    size.setInt32(0, Math.round(size.getInt32(0, true) * factor), true);
  }
  return { ...artifacts, modelTopology: topology, weightData: weights };
}

interface GraphNode {
  op: string;
  input?: string[];
  attr?: { shape?: { shape?: { dim?: { size: string }[] } } };
}

const BYTES: Record<string, number> = { float32: 4, int32: 4, bool: 1, uint16: 2, float16: 2, uint8: 1 };

/** Where the values of a weight begin in the weight file, bytes. */
function placeOf(specs: io.WeightsManifestEntry[], name: string): number {
  let at = 0;
  for (const spec of specs) {
    if (spec.name === name) return at;
    const each = BYTES[spec.quantization?.dtype ?? spec.dtype];
    if (!each) throw new Error(`Weights of the kind ${spec.dtype} cannot be passed over.`);
    at += each * spec.shape.reduce((product, n) => product * n, 1);
  }
  throw new Error(`The paw network's file lacks the weight ${name}.`);
}
