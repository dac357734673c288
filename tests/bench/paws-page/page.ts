import { loadGraphModel } from "@tensorflow/tfjs-converter";
import { type Tensor, zeros } from "@tensorflow/tfjs-core";
import { LOW_CROP_PX, placeCrop } from "../../../src/paws/crop.ts";
import { loadPawNetwork } from "../../../src/paws/network.ts";
import type { Box, PawNetwork, PawSighting } from "../../../src/paws/types.ts";
import { openClip } from "../../../src/video/open.ts";
import type { Region } from "../../../src/video/types.ts";

/** How a picture is made worse before the network sees it. */
export type Spoil = "nothing" | "covered" | "night" | "noise";

let network: PawNetwork;
/** The same for crops as low as the pipeline gives it. */
let low: PawNetwork;

async function start(): Promise<{ backend: string; inputPx: number }> {
  network = await loadPawNetwork({ backend: "wasm" });
  low = await loadPawNetwork({ backend: "wasm", heightPx: LOW_CROP_PX });
  return { backend: network.backend, inputPx: network.inputPx };
}

/** A sighting in pixels of the frame or picture that the region was cut from. */
function inFrame(sighting: PawSighting, region: Region): PawSighting {
  const scale = region.width / network.inputPx;
  const place = <P extends { x: number; y: number }>(p: P): P => ({
    ...p,
    x: region.x + p.x * scale,
    y: region.y + p.y * scale,
  });
  const box = sighting.dogBox;
  return {
    ...sighting,
    peaks: sighting.peaks.map(place),
    joints: sighting.joints.map(place),
    dogBox: box ? { ...place(box), width: box.width * scale, height: box.height * scale } : null,
  };
}

/** Looks at a clip's frames at the given times, each cut as the pipeline cuts a dog with that box. */
async function lookAtClip(
  url: string,
  wanted: { timeS: number; box: Box | null }[],
  spoil: Spoil = "nothing",
): Promise<PawSighting[]> {
  const clip = await openClip(await (await fetch(url)).blob(), { fileName: url });
  const seen: PawSighting[] = [];
  const times = await clip.frameTimes();
  const halfFrame = ((times[1] ?? 0.04) - (times[0] ?? 0)) / 2;
  let next = 0;
  for await (const frame of clip.frames()) {
    const ask = wanted[next];
    if (ask && frame.timeS >= ask.timeS - halfFrame) {
      next++;
      const { widthPx, heightPx } = clip.facts;
      const region = ask.box
        ? placeCrop(ask.box, clip.facts)
        : placeCrop({ x: 0, y: 0, width: widthPx, height: heightPx }, clip.facts);
      const rgb = frame.rgb(region, network.inputPx, network.inputPx);
      seen.push(inFrame(await network.look(spoiled(rgb, spoil)), region));
    }
    frame.close();
    if (next >= wanted.length) break;
  }
  clip.close();
  return seen;
}

/** Looks at frames of a clip by their number, each around the boxes given for it, in square or in low crops. */
async function lookAtFrames(
  url: string,
  wanted: { frame: number; boxes: Box[] }[],
  crops: "square" | "low" = "square",
): Promise<PawSighting[][]> {
  const asked = crops === "low" ? low : network;
  const clip = await openClip(await (await fetch(url)).blob(), { fileName: url });
  const seen: PawSighting[][] = [];
  let number = 0;
  for await (const frame of clip.frames()) {
    const ask = wanted[seen.length];
    if (!ask) break;
    if (number++ === ask.frame) {
      const sightings: PawSighting[] = [];
      for (const box of ask.boxes) {
        const region = placeCrop(box, clip.facts, asked.inputHeightPx / asked.inputPx);
        const rgb = frame.rgb(region, asked.inputPx, asked.inputHeightPx);
        sightings.push(inFrame(await asked.look(rgb), region));
      }
      seen.push(sightings);
    }
    frame.close();
  }
  clip.close();
  return seen;
}

/**
 * Looks for dogs in whole frames as the pipeline does where it knows nothing yet: in overlapping squares, as high as
 * the frame and half as high. The best box of each frame, or null.
 */
async function findInFrames(url: string, numbers: number[]): Promise<(Box | null)[]> {
  const clip = await openClip(await (await fetch(url)).blob(), { fileName: url });
  const { widthPx, heightPx } = clip.facts;
  const found: (Box | null)[] = [];
  let number = 0;
  for await (const frame of clip.frames()) {
    if (found.length >= numbers.length) break;
    if (number++ === numbers[found.length]) {
      const boxes: (Box & { score: number })[] = [];
      for (const tile of tilesOf(widthPx, heightPx)) {
        const rgb = frame.rgb(tile, network.inputPx, network.inputPx);
        const scale = tile.width / network.inputPx;
        for (const b of (await network.look(rgb)).dogBoxes ?? []) {
          boxes.push({
            x: tile.x + b.x * scale,
            y: tile.y + b.y * scale,
            width: b.width * scale,
            height: b.height * scale,
            score: b.score,
          });
        }
      }
      const worth = (b: Box & { score: number }) => b.score * Math.sqrt(b.width * b.height);
      boxes.sort((a, b) => worth(b) - worth(a));
      const best = boxes[0];
      found.push(best && Math.max(best.width, best.height) > LEAST_FOUND * heightPx ? best : null);
    }
    frame.close();
  }
  clip.close();
  return found;
}

/** Smaller boxes than this share of the frame's height are no dog to measure. */
const LEAST_FOUND = 0.12;

function tilesOf(widthPx: number, heightPx: number): Region[] {
  const tiles: Region[] = [];
  for (const side of [Math.min(widthPx, heightPx), Math.min(widthPx, heightPx) / 2]) {
    const places = (room: number) => {
      const steps = Math.ceil((room - side) / (side / 2));
      return Array.from({ length: steps + 1 }, (_, i) => (steps === 0 ? 0 : ((room - side) * i) / steps));
    };
    for (const y of places(heightPx)) {
      for (const x of places(widthPx)) tiles.push({ x, y, width: side, height: side });
    }
  }
  return tiles;
}

/** Looks at a picture file around a box given in its pixels; outside the picture its edge goes on. */
async function lookAtPicture(url: string, box: Box): Promise<PawSighting> {
  const bitmap = await createImageBitmap(await (await fetch(url)).blob());
  const side = Math.max(box.width, box.height) / 0.8;
  const region: Region = {
    x: box.x + box.width / 2 - side / 2,
    y: box.y + box.height / 2 - side / 2,
    width: side,
    height: side,
  };
  const whole = new OffscreenCanvas(bitmap.width, bitmap.height).getContext("2d")!;
  whole.drawImage(bitmap, 0, 0);
  const source = whole.getImageData(0, 0, bitmap.width, bitmap.height);
  bitmap.close();
  return inFrame(await network.look(resampled(source, region, network.inputPx)), region);
}

/** Bilinear; the pictures are about as large as the crop. */
function resampled(source: ImageData, region: Region, side: number): Uint8Array {
  const out = new Uint8Array(side * side * 3);
  const clampTo = (v: number, most: number) => Math.max(0, Math.min(most, v));
  for (let y = 0; y < side; y++) {
    const v = clampTo(region.y + ((y + 0.5) * region.height) / side - 0.5, source.height - 1);
    const v0 = Math.floor(v);
    const v1 = Math.min(source.height - 1, v0 + 1);
    for (let x = 0; x < side; x++) {
      const u = clampTo(region.x + ((x + 0.5) * region.width) / side - 0.5, source.width - 1);
      const u0 = Math.floor(u);
      const u1 = Math.min(source.width - 1, u0 + 1);
      for (let c = 0; c < 3; c++) {
        const at = (row: number, column: number) => source.data[(row * source.width + column) * 4 + c]!;
        const above = at(v0, u0) + (at(v0, u1) - at(v0, u0)) * (u - u0);
        const below = at(v1, u0) + (at(v1, u1) - at(v1, u0)) * (u - u0);
        out[(y * side + x) * 3 + c] = above + (below - above) * (v - v0);
      }
    }
  }
  return out;
}

function spoiled(rgb: Uint8Array, spoil: Spoil): Uint8Array {
  const side = network.inputPx;
  const random = mulberry(7);
  return rgb.map((value, i) => {
    const x = Math.floor(i / 3) % side;
    const y = Math.floor(i / 3 / side);
    if (spoil === "covered") return x > 0.05 * side && x < 0.95 * side && y > 0.15 * side ? 120 : value;
    if (spoil === "night") return value * 0.06 + 12 + 24 * (random() - 0.5);
    if (spoil === "noise") return 255 * random();
    return value;
  });
}

/** A small seeded generator (mulberry32, public domain), so that a bench run can be repeated. */
function mulberry(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Median milliseconds of ours, of a low crop, and of another graph (192 px, as the human network wants), turn by turn. */
async function time(
  otherUrl: string | null,
): Promise<{ ours: number; oursLow: number; other: number | null }> {
  const other = otherUrl ? await loadGraphModel(otherUrl) : null;
  const rgb = new Uint8Array(network.inputPx ** 2 * 3).map((_, i) => (i * 7919) % 256);
  const mine: number[] = [];
  const mineLow: number[] = [];
  const theirs: number[] = [];
  for (let i = 0; i < 30; i++) {
    let t = performance.now();
    await network.look(rgb);
    mine.push(performance.now() - t);
    t = performance.now();
    await low.look(rgb.subarray(0, low.inputPx * low.inputHeightPx * 3));
    mineLow.push(performance.now() - t);
    if (!other) continue;
    const input = zeros([1, 192, 192, 3], "int32");
    t = performance.now();
    const output = other.predict(input) as Tensor;
    await output.data();
    theirs.push(performance.now() - t);
    input.dispose();
    output.dispose();
  }
  other?.dispose();
  const median = (v: number[]) => v.slice(5).sort((a, b) => a - b)[Math.floor((v.length - 5) / 2)] ?? 0;
  return { ours: median(mine), oursLow: median(mineLow), other: other ? median(theirs) : null };
}

const bench = { start, lookAtClip, lookAtFrames, findInFrames, lookAtPicture, time };
export type PawsBench = typeof bench;
Object.assign(globalThis, { bench });
