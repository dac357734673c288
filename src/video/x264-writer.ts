import {
  BufferSource,
  BufferTarget,
  EncodedPacketSink,
  EncodedVideoPacketSource,
  Input,
  MP4,
  Mp4OutputFormat,
  Output,
} from "mediabunny";
import type { FilmWriter } from "./annotate.ts";
import { FfmpegProgram } from "./ffmpeg-program.ts";

/** Raw pictures handed to ffmpeg at a time, bytes. */
const CHUNK_BYTES = 48e6;

/**
 * Writes H.264 with ffmpeg's x264, for browsers that encode nothing themselves. Pictures are encoded a stretch at a
 * time; the packets then get their true times, which ffmpeg's raw input has no place for.
 */
export async function openX264Writer(
  context: OffscreenCanvasRenderingContext2D,
  signal: AbortSignal | undefined,
): Promise<FilmWriter> {
  const { width, height } = context.canvas;
  const frameBytes = width * height * 4;
  const perChunk = Math.max(1, Math.floor(CHUNK_BYTES / frameBytes));
  const program = new FfmpegProgram(null);
  const target = new BufferTarget();
  const output = new Output({ format: new Mp4OutputFormat({ fastStart: "in-memory" }), target });
  const source = new EncodedVideoPacketSource("avc");
  output.addVideoTrack(source);
  await output.start();
  let pixels = new Uint8Array(frameBytes * perChunk);
  let shown: { timeS: number; durationS: number }[] = [];
  let described = false;

  async function encode(): Promise<void> {
    if (shown.length === 0) return;
    const encoded = await program.job(signal, async (tools) => {
      await tools.write("/in.rgba", pixels.subarray(0, frameBytes * shown.length).slice());
      await tools.ffmpeg([
        ...["-f", "rawvideo", "-pix_fmt", "rgba", "-s", `${width}x${height}`, "-r", "30", "-i", "/in.rgba"],
        ...["-vf", "scale=out_color_matrix=bt709:out_range=tv", "-pix_fmt", "yuv420p"],
        ...["-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709"],
        // No B-frames: packets then come in the order of the pictures.
        ...["-c:v", "libx264", "-preset", "veryfast", "-crf", "22", "-bf", "0", "-f", "mp4", "/out.mp4"],
      ]);
      await tools.take("/in.rgba");
      return tools.take("/out.mp4");
    });
    const input = new Input({ source: new BufferSource(encoded ?? new Uint8Array()), formats: [MP4] });
    const track = await input.getPrimaryVideoTrack();
    if (!track) throw new Error("ffmpeg encoded no pictures.");
    const decoderConfig = (await track.getDecoderConfig()) ?? undefined;
    let index = 0;
    for await (const packet of new EncodedPacketSink(track).packets()) {
      const at = shown[index++];
      if (!at) throw new Error("ffmpeg encoded more pictures than it was given.");
      const timed = packet.clone({ timestamp: at.timeS, duration: at.durationS });
      await source.add(timed, described ? undefined : { decoderConfig });
      described = true;
    }
    if (index < shown.length) throw new Error("ffmpeg encoded fewer pictures than it was given.");
    input.dispose();
    shown = [];
  }

  return {
    async add(timeS, durationS) {
      const { data } = context.getImageData(0, 0, width, height);
      pixels.set(data, shown.length * frameBytes);
      shown.push({ timeS, durationS });
      if (shown.length === perChunk) await encode();
    },
    async finish() {
      await encode();
      await output.finalize();
      program.close();
      return new Blob([target.buffer ?? new ArrayBuffer(0)], { type: "video/mp4" });
    },
    async cancel() {
      program.close();
      pixels = new Uint8Array(0);
      await output.cancel();
    },
  };
}
