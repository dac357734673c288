import { z } from "zod";
import { CLIP_PATH, type FfmpegProgram, type ProgramTools } from "./ffmpeg-program.ts";
import type { PacketList } from "./packets.ts";
import type { Upright } from "./resample.ts";
import { refuse } from "./sentences.ts";
import { readShownPictures } from "./showinfo.ts";

/** What ffprobe says of a clip that only it can read. */
export interface Probe {
  codec: string;
  upright: Upright;
  matrix: string | null;
  packets: PacketList;
  originS: number;
  /** The container's earliest time, from which ffmpeg counts when it seeks. */
  containerStartS: number;
}

const seconds = z.coerce.number().catch(0);
const probeShape = z.object({
  format: z.object({ format_name: z.string(), start_time: seconds, duration: seconds }),
  packets: z
    .array(
      z.object({
        stream_index: z.number(),
        pts: z.number().optional(),
        duration: z.number().default(0),
        flags: z.string().default(""),
      }),
    )
    .default([]),
  streams: z.array(
    z.object({
      index: z.number(),
      codec_type: z.string().optional(),
      codec_name: z.string().default("unknown"),
      width: z.number().default(0),
      height: z.number().default(0),
      sample_aspect_ratio: z.string().default("1:1"),
      time_base: z.string().default("1/1"),
      color_space: z.string().optional(),
      duration: seconds,
      side_data_list: z.array(z.object({ rotation: z.number().optional() })).default([]),
    }),
  ),
});

/** Where a container's clock does not begin with the clip. */
const FREE_RUNNING = /mpegts|^mpeg$/;

/** Reads size, turn, codec and the time of every picture with ffprobe. */
export function probeClip(
  program: FfmpegProgram,
  fileName: string,
  signal: AbortSignal | undefined,
  onProgress: (done: number) => void,
): Promise<Probe> {
  return program.job(signal, async (tools) => {
    const wanted =
      "format=format_name,start_time,duration:stream:stream_side_data=rotation:packet=stream_index,pts,duration,flags";
    await tools.ffprobe(["-of", "json", "-show_entries", wanted, CLIP_PATH, "-o", "/probe.json"]);
    const json = await tools.take("/probe.json");
    const parsed = probeShape.safeParse(json ? JSON.parse(new TextDecoder().decode(json)) : null);
    if (!parsed.success) throw refuse.notVideo(fileName);
    const { format, streams } = parsed.data;
    const video = streams.find((stream) => stream.codec_type === "video" && stream.width > 0);
    if (!video) {
      throw streams.some((stream) => stream.codec_type === "audio")
        ? refuse.soundOnly(fileName)
        : refuse.notVideo(fileName);
    }
    onProgress(0.2);
    const [across, down] = ratio(video.sample_aspect_ratio, ":");
    const squareWidth = Math.round((video.width * across) / down);
    // ffmpeg counts the turn anticlockwise.
    const turn = video.side_data_list.find((data) => data.rotation !== undefined)?.rotation ?? 0;
    const rotationDeg = ((((Math.round(-turn / 90) * 90) % 360) + 360) % 360) as Upright["rotationDeg"];
    const sideways = rotationDeg % 180 !== 0;
    const [one, per] = ratio(video.time_base, "/");
    const packets = await listProbed(
      tools,
      parsed.data.packets
        // Packets that an edit list hides carry the flag D.
        .filter(({ stream_index, flags }) => stream_index === video.index && !flags.includes("D"))
        .map(({ pts, duration, flags }) => ({
          timeS: pts === undefined ? null : (pts * one) / per,
          durationS: (duration * one) / per,
          key: flags.includes("K"),
        })),
      video.duration || format.duration,
      (done) => onProgress(0.2 + 0.8 * done),
    );
    return {
      codec: video.codec_name,
      upright: {
        widthPx: sideways ? video.height : squareWidth,
        heightPx: sideways ? squareWidth : video.height,
        rotationDeg,
        flip: false,
      },
      matrix: video.color_space ?? null,
      packets,
      originS: FREE_RUNNING.test(format.format_name) ? (packets.timesS[0] ?? 0) : 0,
      containerStartS: format.start_time,
    };
  });
}

/** The container's earliest time, seconds, from which ffmpeg counts when it seeks. */
export function probeStart(program: FfmpegProgram, signal: AbortSignal | undefined): Promise<number> {
  return program.job(signal, async (tools) => {
    await tools.ffprobe([
      "-of",
      "csv=p=0",
      "-show_entries",
      "format=start_time",
      CLIP_PATH,
      "-o",
      "/start.csv",
    ]);
    const csv = await tools.take("/start.csv");
    return seconds.parse(csv ? new TextDecoder().decode(csv).trim() : 0);
  });
}

interface ProbedPacket {
  timeS: number | null;
  durationS: number;
  key: boolean;
}

async function listProbed(
  tools: ProgramTools,
  packets: ProbedPacket[],
  promisedS: number,
  onProgress: (done: number) => void,
): Promise<PacketList> {
  const durationS = packets.at(-1)?.durationS ?? 0;
  const timed = packets.flatMap(({ timeS, key }) => (timeS === null ? [] : [{ timeS, key }]));
  // Packets of old containers may carry no time of showing: then only decoding tells it.
  const timesS =
    timed.length === packets.length ? timed.map(({ timeS }) => timeS) : await shownTimes(tools, onProgress);
  timesS.sort((a, b) => a - b);
  onProgress(1);
  const endS = (timesS.at(-1) ?? 0) + durationS;
  return {
    timesS,
    keyTimesS: timed.filter(({ key }) => key).map(({ timeS }) => timeS),
    endS,
    promisedEndS: Math.max(endS, promisedS),
  };
}

async function shownTimes(tools: ProgramTools, onProgress: (done: number) => void): Promise<number[]> {
  const decode = ["-copyts", "-i", CLIP_PATH, "-map", "0:V:0", "-vf", "showinfo", "-vsync", "0"];
  const { log } = await tools.ffmpeg([...decode, "-f", "null", "-"], onProgress);
  return readShownPictures(log).map(({ timeS }) => timeS);
}

function ratio(text: string, separator: string): [number, number] {
  const [above, below] = text.split(separator).map(Number);
  return above && below ? [above, below] : [1, 1];
}
