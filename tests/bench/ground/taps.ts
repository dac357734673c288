import { spawnSync } from "node:child_process";
import type { Picture } from "../../../src/ground/picture.ts";
import { poleLine } from "../../../src/ground/pole-line.ts";
import type { WholePole } from "../../../src/ground/rest-of-row.ts";
import { snapToPole } from "../../../src/ground/snap.ts";
import type { ImagePoint } from "../../../src/ground/types.ts";

/** Standard deviation of a finger under the loupe, each way; pixels of a picture 1920 wide. */
export const FINGER_SD_PX = 2.5;
/** How far taps are drawn, in the same pixels. */
const REACH_PX = 14;

/** A pole as a finger taps it. @param scale pixels of the picture per pixel of one 1920 wide. */
export function fingered(pole: WholePole, scale: number, normal: () => number): WholePole {
  const tap = (p: ImagePoint) => ({
    x: p.x + FINGER_SD_PX * scale * normal(),
    y: p.y + FINGER_SD_PX * scale * normal(),
  });
  return { near: tap(pole.near), far: tap(pole.far) };
}

/** What the app makes of two taps: each is drawn to the pole's end, and both onto its middle line. */
export function drawnToPole(picture: Picture, pole: WholePole, scale: number): WholePole {
  const snapped = (p: ImagePoint) => snapToPole(picture, p, REACH_PX * scale)?.point ?? p;
  const ends = { near: snapped(pole.near), far: snapped(pole.far) };
  const line = poleLine(picture, ends, REACH_PX * scale);
  return line ? { near: line.near, far: line.far } : ends;
}

export const hasFfmpeg = () => spawnSync("ffmpeg", ["-version"]).status === 0;

/** One frame of a clip, by a native ffmpeg. */
export function frameOf(clip: string, timeS: number, width: number, height: number): Picture {
  const done = spawnSync(
    "ffmpeg",
    // biome-ignore format: one option a line says nothing
    ["-loglevel", "error", "-ss", String(Math.max(0, timeS - 0.001)), "-i", clip, "-frames:v", "1", "-s", `${width}x${height}`, "-f", "rawvideo", "-pix_fmt", "rgb24", "-"],
    { maxBuffer: 1 << 28 },
  );
  if (done.status !== 0) throw new Error(`No frame of ${clip}: ${done.stderr}`);
  return { data: new Uint8Array(done.stdout), width, height, channels: 3 };
}
