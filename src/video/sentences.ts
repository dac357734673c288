import { ClipError } from "./types.ts";

/** Every sentence that a file can earn by being wrong, in one place so that they read alike. */
export const refuse = {
  empty: () =>
    new ClipError("not-video", "This file is empty (0 bytes). Copy the video from the phone again."),
  notVideo: (name: string) =>
    new ClipError(
      "not-video",
      `${quoted(name)} is not a video that can be read. Choose the recording itself: MP4, MOV, WebM, MKV or AVI.`,
    ),
  soundOnly: (name: string) =>
    new ClipError("not-video", `${quoted(name)} holds sound but no picture. Choose the video recording.`),
  noIndex: (name: string) =>
    new ClipError(
      "truncated",
      `${quoted(name)} is cut off: its index, which a phone writes at the very end, is missing. Copy it from the phone again; if the phone itself cannot play it, the recording is lost.`,
    ),
  noFrames: (name: string) =>
    new ClipError(
      "no-frames",
      `${quoted(name)} has a video track without a single picture. Copy it from the phone again, or film again.`,
    ),
  cannotDecode: (name: string, codec: string) =>
    new ClipError(
      "cannot-decode",
      `The pictures of ${quoted(name)} (${codec}) cannot be decoded here. Save it on the phone as H.264 ("most compatible") and try again.`,
    ),
  programMissing: () =>
    new ClipError(
      "cannot-decode",
      "This kind of video needs an extra decoding program of about 32 MB, which could not be loaded. Connect to the internet and try again, or save the video on the phone as H.264.",
    ),
  programNotWanted: () =>
    new ClipError(
      "cancelled",
      "Not opened: this kind of video needs the extra decoder. Fetch it when you have a good connection, or save the video on the phone as H.264.",
    ),
  unreadable: (name: string) =>
    new ClipError(
      "not-video",
      `${quoted(name)} can't be read any more: it was moved, changed or deleted, or the card it is on was taken out. Choose it again.`,
    ),
  damaged: (name: string) =>
    new ClipError(
      "truncated",
      `${quoted(name)} is damaged: what it says of its own pictures does not hold together. Copy it from the phone again; if the phone itself cannot play it, the recording is lost.`,
    ),
  tooBig: (name: string) =>
    new ClipError(
      "cannot-decode",
      `Decoding ${quoted(name)} took more memory than this device has. Cut it to the passes you need on the phone and try again.`,
    ),
  damagedPicture: (timeS: number) =>
    new ClipError(
      "cannot-decode",
      `The recording is damaged at ${timeS.toFixed(2)} s and shows no picture there. Choose another moment.`,
    ),
  cancelled: () => new ClipError("cancelled", "Stopped."),
};

function quoted(name: string): string {
  return name ? `“${name}”` : "This file";
}

/** Throws the cancelled error once the signal is up. */
export function stopIfAborted(signal: AbortSignal | undefined): void {
  if (signal?.aborted) throw refuse.cancelled();
}

export const warn = {
  cutOff: (hasS: number, shouldS: number) =>
    `The file is cut off: ${hasS.toFixed(1)} s of ${shouldS.toFixed(1)} s are there. Copy it from the phone again to have the rest.`,
  damaged: (fromS: number, toS: number, frames: number) =>
    `The recording is damaged from ${fromS.toFixed(2)} s to ${toS.toFixed(2)} s: ${frames === 1 ? "one frame is" : `${frames} frames are`} missing there; the rest is used.`,
  missing: (got: number, expected: number) =>
    `${expected - got} of ${expected} frames could not be decoded; times in this clip may be off by as many frames.`,
  repeats: (fps: number, real: number) =>
    `Many frames repeat the one before: the file has ${fps.toFixed(0)} frames a second but only about ${real.toFixed(0)} different pictures.`,
  slowed: (filmed: number, plays: number) =>
    `Filmed at ${filmed.toFixed(0)} frames a second but saved to play at ${plays.toFixed(0)}: the dog seems ${(filmed / plays).toFixed(0)} times slower than it was. Places of landings are right; times and speeds are not.`,
  small: (longSidePx: number) =>
    `The picture is only ${longSidePx} pixels on its long side, so a paw covers very few. Film at 1280 × 720 or more.`,
};
