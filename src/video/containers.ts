/** First bytes of containers that mediabunny does not read, or not with old codecs in them, but ffmpeg does. */
const OLD_CONTAINERS: { name: string; offset: number; bytes: string }[] = [
  { name: "AVI", offset: 8, bytes: "AVI " },
  { name: "Flash video", offset: 0, bytes: "FLV" },
  { name: "Windows Media", offset: 0, bytes: "\x30\x26\xb2\x75\x8e\x66\xcf\x11" },
  { name: "MPEG programme stream", offset: 0, bytes: "\x00\x00\x01\xba" },
  { name: "MPEG video", offset: 0, bytes: "\x00\x00\x01\xb3" },
  { name: "Ogg", offset: 0, bytes: "OggS" },
];

/** A transport stream's packets begin with 0x47 every 188 bytes, or every 192 in a camcorder's (first at 4). */
const SYNC = 0x47;
const SYNC_PLACES = [
  [0, 188, 376],
  [4, 196, 388],
];

/** Whether the first bytes are those of a video container that ffmpeg may read where mediabunny finds no picture. */
export async function isOldContainer(file: Blob): Promise<boolean> {
  const start = new Uint8Array(await file.slice(0, 400).arrayBuffer());
  return (
    OLD_CONTAINERS.some(({ offset, bytes }) =>
      Array.from(bytes).every((letter, index) => start[offset + index] === letter.charCodeAt(0)),
    ) || SYNC_PLACES.some((places) => places.every((place) => start[place] === SYNC))
  );
}

/** Boxes walked before giving up; recordings have a handful at the top level, those in pieces two a piece. */
const MOST_BOXES = 100_000;

export interface TopBox {
  type: string;
  /** Where it begins, and where it says that it ends; null: at the end of the file. */
  from: number;
  to: number | null;
}

/** The boxes at the top level of an MP4 or MOV file, one after another. Layout: ISO/IEC 14496-12, section 4.2. */
export async function* topBoxes(file: Blob): AsyncGenerator<TopBox, void, void> {
  let from = 0;
  for (let count = 0; count < MOST_BOXES && from + 8 <= file.size; count++) {
    const header = new DataView(await file.slice(from, from + 16).arrayBuffer());
    const type = String.fromCharCode(...new Uint8Array(header.buffer, 4, 4));
    const short = header.getUint32(0);
    const long = short === 1 && header.byteLength >= 16 ? Number(header.getBigUint64(8)) : null;
    const size = short === 1 ? long : short;
    const to = size === null || size < 8 ? null : from + size;
    yield { type, from, to };
    if (to === null) return;
    from = to;
  }
}

const FIRST_BOXES = ["ftyp", "wide", "mdat", "free", "skip"];

/**
 * Whether the file starts as an MP4 or MOV recording but the index box ("moov") never comes: what is left of a
 * recording or a copy that was broken off.
 */
export async function isCutOffRecording(file: Blob): Promise<boolean> {
  let boxes = 0;
  for await (const { type, from } of topBoxes(file)) {
    if (from === 0 && !FIRST_BOXES.includes(type)) return false;
    if (type === "moov" || type === "moof") return false;
    boxes++;
  }
  return boxes > 0;
}

/** Bytes up to the last box that is whole, or whose pictures are cut off; 0 where the file is no such recording. */
export async function bytesOfWholeBoxes(file: Blob): Promise<number> {
  let whole = 0;
  for await (const { type, from, to } of topBoxes(file)) {
    if (from === 0 && !FIRST_BOXES.includes(type)) return 0;
    if (type === "mdat") whole = Math.min(to ?? file.size, file.size);
    else if (to !== null && to <= file.size) whole = to;
  }
  return whole;
}
