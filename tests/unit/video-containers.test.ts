import { expect, it } from "vitest";
import { isCutOffRecording, isOldContainer } from "../../src/video/containers.ts";

/** A box of ISO/IEC 14496-12: size, name, zeros; `written` is the size it claims when that differs. */
function box(name: string, size: number, written = size): Uint8Array<ArrayBuffer> {
  const bytes = new Uint8Array(size);
  new DataView(bytes.buffer).setUint32(0, written);
  bytes.set(new TextEncoder().encode(name), 4);
  return bytes;
}

function largeBox(name: string, size: number): Uint8Array<ArrayBuffer> {
  const bytes = box(name, size, 1);
  new DataView(bytes.buffer).setBigUint64(8, BigInt(size));
  return bytes;
}

it("tells a recording without an index from a whole one", async () => {
  const whole = [box("ftyp", 24), box("mdat", 200), box("moov", 64)];
  expect(await isCutOffRecording(new Blob(whole))).toBe(false);
  expect(await isCutOffRecording(new Blob(whole.slice(0, 2)))).toBe(true);
  expect(await isCutOffRecording(new Blob([box("ftyp", 24), box("mdat", 40, 5000)]))).toBe(true);
  expect(await isCutOffRecording(new Blob([box("ftyp", 24), box("mdat", 40, 0)]))).toBe(true);
});

it("walks over media of more than 4 GB by its 64-bit size", async () => {
  expect(await isCutOffRecording(new Blob([box("ftyp", 24), largeBox("mdat", 300), box("moov", 64)]))).toBe(
    false,
  );
  expect(await isCutOffRecording(new Blob([box("ftyp", 24), largeBox("mdat", 300)]))).toBe(true);
});

it("takes no other file for a recording", async () => {
  expect(await isCutOffRecording(new Blob(["carrots, rice, a new lead and some more words"]))).toBe(false);
  expect(await isCutOffRecording(new Blob([box("moof", 40)]))).toBe(false);
});

it("knows the containers that are left to ffmpeg by their first bytes", async () => {
  const transport = new Uint8Array(600);
  for (const place of [0, 188, 376]) transport[place] = 0x47;
  const camcorder = new Uint8Array(600);
  for (const place of [4, 196, 388]) camcorder[place] = 0x47;
  for (const known of ["RIFF\x10\0\0\0AVI LIST", "FLV\x01\x05", "OggS\0", transport, camcorder]) {
    expect(await isOldContainer(new Blob([known]))).toBe(true);
  }
  for (const other of ["RIFF\x10\0\0\0WAVEfmt ", "Good morning", "", new Uint8Array(600)]) {
    expect(await isOldContainer(new Blob([other]))).toBe(false);
  }
});
