import { ALL_FORMATS, BlobSource, Input, VideoSampleSink } from "mediabunny";
import type { PoleMarks } from "../../../src/ground/types.ts";
import { LOW_CROP_PX } from "../../../src/paws/crop.ts";
import { loadPawNetworkApart } from "../../../src/paws/network-apart.ts";
import { analyseClip } from "../../../src/pipeline/clip.ts";

/** What the page asks for: plain decoding, or the whole path from file to landings. */
export type Task =
  | { id: number; kind: "decode"; file: File }
  /** With `ready` the network is loaded before time is taken, as while a person looks at the poles. */
  | { id: number; kind: "path"; file: File; marks: PoleMarks; ready: boolean };

export interface Done {
  id: number;
  seconds: number;
  frames: number;
  /** Bytes of decoded pictures copied into our memory. */
  bytesRead: number;
  /** Seconds until the network stood ready and until the first landing was told; null where there is none. */
  readyS: number | null;
  firstLandingS: number | null;
  landings: number;
  looks: number;
}

let bytesRead = 0;
const copyTo = VideoFrame.prototype.copyTo;
VideoFrame.prototype.copyTo = function (destination, options) {
  bytesRead += this.allocationSize(options);
  return copyTo.call(this, destination, options);
};

self.onmessage = async ({ data: task }: MessageEvent<Task>) => {
  bytesRead = 0;
  const loadNow = () => loadPawNetworkApart({ heightPx: LOW_CROP_PX, remembered: "wasm" });
  const loaded = task.kind === "path" && task.ready ? await loadNow() : null;
  const begun = performance.now();
  const since = () => (performance.now() - begun) / 1000;
  const done: Done = {
    id: task.id,
    seconds: 0,
    frames: 0,
    bytesRead: 0,
    readyS: null,
    firstLandingS: null,
    landings: 0,
    looks: 0,
  };
  if (task.kind === "decode") {
    const input = new Input({ source: new BlobSource(task.file), formats: ALL_FORMATS });
    const track = await input.getPrimaryVideoTrack();
    if (!track) throw new Error("The clip has no video.");
    for await (const sample of new VideoSampleSink(track).samples()) {
      done.frames++;
      sample.close();
    }
    input.dispose();
  } else {
    const load = async () => {
      const network = loaded ?? (await loadNow());
      done.readyS = since();
      return {
        ...network,
        look(rgb: Uint8Array) {
          done.looks++;
          return network.look(rgb);
        },
      };
    };
    const analysis = await analyseClip(
      { file: task.file, fileName: task.file.name, marks: task.marks },
      load,
      {
        onProgress: ({ framesDone }) => {
          done.frames = Math.max(done.frames, framesDone);
        },
        onLandings: (passes) => {
          if (passes.some((pass) => pass.landings.length > 0)) done.firstLandingS ??= since();
        },
      },
    );
    done.landings = analysis.passes.flatMap((p) => p.landings).filter((l) => l.paw[1] === "H").length;
  }
  done.seconds = since();
  done.bytesRead = bytesRead;
  self.postMessage(done);
};
