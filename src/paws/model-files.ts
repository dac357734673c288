import { io } from "@tensorflow/tfjs-core";
import padsWeightsUrl from "../../models/paws/pads.bin?url";
import padsGraphUrl from "../../models/paws/pads.json?url";
import mapsWeightsUrl from "../../models/paws/paws.bin?url";
import mapsGraphUrl from "../../models/paws/paws.json?url";
import skeletonWeightsUrl from "../../models/paws/skeleton.bin?url";
import skeletonGraphUrl from "../../models/paws/skeleton.json?url";
import type { Trial } from "./trial.ts";

/** What export.py writes beside the graph. */
export interface MapsFacts {
  inputPx: number;
  stride: number;
  maps: string[];
  /** Outputs that PyTorch gives for the trial picture, to tell a backend with wrong numbers. */
  trial: Trial;
  /** The same for the lower crop that the pipeline uses. */
  lowTrial: Trial & { heightPx: number };
}

/** What models/training/export_pads.py writes beside the graph. */
export interface PadsFacts {
  patchPx: number;
  /** Side of a cell of the answer, pixels of the patch. */
  cellPx: number;
  /** Side of what a patch shows over the height of the dog's box. */
  share: number;
  /** Outputs that PyTorch gives for the trial patch. */
  trial: Trial;
}

interface Shipped {
  graph: string;
  weights: Record<string, string>;
}

const shipped = {
  maps: { graph: mapsGraphUrl, weights: { "paws.bin": mapsWeightsUrl } },
  pads: { graph: padsGraphUrl, weights: { "pads.bin": padsWeightsUrl } },
  skeleton: {
    graph: skeletonGraphUrl,
    weights: { "paws.bin": mapsWeightsUrl, "skeleton.bin": skeletonWeightsUrl },
  },
} satisfies Record<string, Shipped>;

/**
 * Fetches one of our graph models. Its weight files are asked for by the addresses they have in this build
 * (their names carry a hash), or, with modelUrl, beside that JSON file.
 */
export async function fetchModel(which: keyof typeof shipped, modelUrl?: string): Promise<io.ModelArtifacts> {
  const files: Shipped = modelUrl ? { graph: modelUrl, weights: {} } : shipped[which];
  const graphUrl = new URL(files.graph, globalThis.location?.href).href;
  const graph = parsed(await (await fetched(graphUrl)).text(), graphUrl);
  const parts = await Promise.all(
    graph.weightsManifest.map(async (group) =>
      Promise.all(
        group.paths.map(async (path) => {
          const url = new URL(
            files.weights[path] ?? path,
            files.weights[path] ? globalThis.location?.href : graphUrl,
          );
          return (await fetched(url.href)).arrayBuffer();
        }),
      ),
    ),
  );
  return io.getModelArtifactsForJSONSync(
    graph,
    graph.weightsManifest.flatMap((g) => g.weights),
    parts.flat(),
  );
}

async function fetched(url: string): Promise<Response> {
  const answer = await fetch(url);
  if (!answer.ok) throw notLoaded(url, String(answer.status));
  return answer;
}

/** Some hosts answer a missing file with a page instead of an error. */
function parsed(text: string, url: string): io.ModelJSON {
  try {
    return JSON.parse(text) as io.ModelJSON;
  } catch {
    throw notLoaded(url, "not a model");
  }
}

function notLoaded(url: string, reason: string): Error {
  const file = new URL(url).pathname.split("/").pop();
  return new Error(
    `The paw network could not be loaded (${file}: ${reason}). Check the connection and load the page again.`,
  );
}
