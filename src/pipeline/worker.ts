import padsWeightsUrl from "../../models/paws/pads.bin?url";
import mapsWeightsUrl from "../../models/paws/paws.bin?url";
import { LOW_CROP_PX } from "../paws/crop.ts";
import { loadPawNetworkApart } from "../paws/network-apart.ts";
import type { PawNetwork } from "../paws/types.ts";
import { analyseClip } from "./clip.ts";
import { AnalysisError } from "./failure.ts";
import { openLookLog } from "./look-log.ts";
import { ALIVE_EVERY_MS, type FromWorker, type ToWorker } from "./worker-messages.ts";

const answer = (message: FromWorker) => self.postMessage(message);

/** All three names carry a hash of their contents: other weights or other code never read this log. */
const program = `${mapsWeightsUrl} ${padsWeightsUrl} ${self.location.pathname}`;

const load = (backend: ToWorker["backend"]) =>
  loadPawNetworkApart({ heightPx: LOW_CROP_PX, remembered: backend });

/** Loaded before it is asked for; null where that failed, and is tried again. */
let ahead: Promise<PawNetwork | null> = Promise.resolve(null);

self.onmessage = async ({ data }: MessageEvent<ToWorker>) => {
  if (data.kind === "get-ready") {
    ahead = load(data.backend).catch(() => null);
    return;
  }
  const { request, backend } = data;
  setInterval(() => answer({ kind: "alive" }), ALIVE_EVERY_MS);
  try {
    const log = request.logAs ? await openLookLog(request.logAs, program) : null;
    const loadNetwork = async () => {
      const network = (await ahead) ?? (await load(backend));
      return log ? log.behind(network) : network;
    };
    const analysis = await analyseClip(request, loadNetwork, {
      onProgress: (progress) =>
        answer({ kind: "progress", progress: log ? { ...progress, looksTakenUp: log.takenUp } : progress }),
      onLandings: (passes) => answer({ kind: "landings", passes }),
    });
    answer({ kind: "done", analysis });
  } catch (error) {
    const known = error instanceof AnalysisError;
    answer({
      kind: "failed",
      failure: known ? error.kind : "inside",
      sentence: known
        ? error.message
        : `Something went wrong inside the analysis: ${error instanceof Error ? error.message : String(error)}`,
    });
  }
};
