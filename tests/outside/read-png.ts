import { inflateSync } from "node:zlib";

/** A picture's bytes: rows from the top, red green blue. */
export interface Picture {
  width: number;
  height: number;
  rgb: Uint8Array;
}

/**
 * Reads a PNG of 8 bits a colour, without transparency and not interlaced (PNG specification, third edition, 9.2 and 9.4).
 *
 * @throws {Error} For any other kind.
 */
export function readPng(file: Buffer): Picture {
  let header: Buffer | null = null;
  const packed: Buffer[] = [];
  for (let at = 8; at < file.length; ) {
    const length = file.readUInt32BE(at);
    const kind = file.toString("latin1", at + 4, at + 8);
    const data = file.subarray(at + 8, at + 8 + length);
    if (kind === "IHDR") header = data;
    if (kind === "IDAT") packed.push(data);
    at += 12 + length;
  }
  const [depth, colour, , , interlaced] = header ? header.subarray(8) : [];
  if (!header || depth !== 8 || colour !== 2 || interlaced !== 0) {
    throw new Error("Only plain PNGs of 8 bits a colour are read.");
  }
  const [width, height] = [header.readUInt32BE(0), header.readUInt32BE(4)];
  const bytes = inflateSync(Buffer.concat(packed));
  const wide = 3 * width;
  const rgb = new Uint8Array(height * wide);
  for (let y = 0; y < height; y++) {
    const filter = bytes[y * (wide + 1)]!;
    for (let i = 0; i < wide; i++) {
      const left = i >= 3 ? rgb[y * wide + i - 3]! : 0;
      const up = y > 0 ? rgb[(y - 1) * wide + i]! : 0;
      const upLeft = y > 0 && i >= 3 ? rgb[(y - 1) * wide + i - 3]! : 0;
      rgb[y * wide + i] = bytes[y * (wide + 1) + 1 + i]! + foretold(filter, left, up, upLeft);
    }
  }
  return { width, height, rgb };
}

function foretold(filter: number, left: number, up: number, upLeft: number): number {
  if (filter === 0) return 0;
  if (filter === 1) return left;
  if (filter === 2) return up;
  if (filter === 3) return (left + up) >> 1;
  const guess = left + up - upLeft;
  const [a, b, c] = [left, up, upLeft].map((v) => Math.abs(guess - v)) as [number, number, number];
  return a <= b && a <= c ? left : b <= c ? up : upLeft;
}
