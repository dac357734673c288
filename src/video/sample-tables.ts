import { topBoxes } from "./containers.ts";

/** Larger indexes than this are left to the demuxer: an hour at 240 frames a second needs about 15 MB. */
const MOST_INDEX_BYTES = 256 * 2 ** 20;
/** Pictures that a piece of a recording in pieces may name without giving each its own entry. */
const MOST_UNLISTED = 100_000;
/** How many times as many pictures as have sizes the other tables may name: sloppy writers are not liars. */
const SLOPPY = 2;

/** Boxes that hold boxes on the way to the tables. */
const HOLDERS = new Set(["trak", "mdia", "minf", "stbl", "traf"]);

/**
 * Whether the index of an MP4 or MOV file names more pictures than it has sizes for. The demuxer counts through what
 * the tables say, so that a damaged count of four thousand million holds it for minutes or takes all memory.
 * Tables: ISO/IEC 14496-12, sections 8.6.1 (stts, ctts), 8.7.3 (stsz, stz2), 8.7.4 (stsc) and 8.8.8 (trun).
 */
export async function namesTooManyPictures(file: Blob): Promise<boolean> {
  for await (const { type, from, to } of topBoxes(file)) {
    if (type !== "moov" && type !== "moof") continue;
    const end = to ?? file.size;
    // One that is cut off is refused as such.
    if (end > file.size || end - from > MOST_INDEX_BYTES) continue;
    const index = new DataView(await file.slice(from, end).arrayBuffer());
    for (const track of boxesIn(index)) {
      if (track.type === "trak" && trackNamesTooMany(track.content)) return true;
      if (track.type === "traf" && pieceNamesTooMany(track.content)) return true;
    }
  }
  return false;
}

interface Box {
  type: string;
  content: DataView;
}

/** The boxes inside one, its own header aside; ends where a size makes no sense. */
function* boxesIn(box: DataView, headerBytes = 8): Generator<Box, void, void> {
  for (let from = headerBytes; from + 8 <= box.byteLength; ) {
    const size = box.getUint32(from);
    const type = String.fromCharCode(...[4, 5, 6, 7].map((at) => box.getUint8(from + at)));
    const end = size === 0 ? box.byteLength : Math.min(from + size, box.byteLength);
    if (end < from + 8) return;
    yield { type, content: new DataView(box.buffer, box.byteOffset + from, end - from) };
    from = end;
  }
}

function* allBoxesIn(box: DataView): Generator<Box, void, void> {
  for (const one of boxesIn(box)) {
    yield one;
    if (HOLDERS.has(one.type)) yield* allBoxesIn(one.content);
  }
}

function trackNamesTooMany(track: DataView): boolean {
  let sizes = 0;
  let named = 0;
  for (const { type, content } of allBoxesIn(track)) {
    // Of sound only the fact that there is some is read.
    if (type === "hdlr" && nameAt(content, 16) === "soun") return false;
    if (type === "stsz" || type === "stz2") sizes = sizesIn(content);
    if (type === "stts" || type === "ctts") {
      named = Math.max(
        named,
        column(content, 8, 0).reduce((sum, count) => sum + count, 0),
      );
    }
    if (type === "stsc") named = column(content, 12, 4).reduce((most, count) => Math.max(most, count), named);
  }
  return named > SLOPPY * sizes;
}

/** How many pictures have sizes: as many as are listed, or all with one size for all. */
function sizesIn(table: DataView): number {
  const count = numberAt(table, 16);
  // A size takes four bits at least.
  return numberAt(table, 12) > 0 ? count : Math.min(count, 2 * (table.byteLength - 20));
}

/** One column of a table whose rows begin after their number; without end where the box is too short for them. */
function column(table: DataView, rowBytes: number, offset: number): number[] {
  const rows = numberAt(table, 12);
  if (16 + rows * rowBytes > table.byteLength) return [Number.POSITIVE_INFINITY];
  return Array.from({ length: rows }, (_, row) => table.getUint32(16 + row * rowBytes + offset));
}

function pieceNamesTooMany(piece: DataView): boolean {
  for (const { type, content } of boxesIn(piece)) {
    if (type !== "trun") continue;
    // Bits 8 to 11 tell whether each picture has an entry; those that have end with the box.
    const hasEntries = (numberAt(content, 8) & 0xf00) !== 0;
    if (!hasEntries && numberAt(content, 12) > MOST_UNLISTED) return true;
  }
  return false;
}

function numberAt(box: DataView, at: number): number {
  return at + 4 <= box.byteLength ? box.getUint32(at) : 0;
}

function nameAt(box: DataView, at: number): string {
  return String.fromCharCode(...[24, 16, 8, 0].map((bits) => (numberAt(box, at) >> bits) & 0xff));
}
