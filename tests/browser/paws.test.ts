import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import { decodePad } from "../../src/paws/pads.ts";
import type { PadPlace } from "../../src/paws/types.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";
import type { PawsPage } from "./paws/page.ts";

/** PyTorch's answer for the picture beside it; models/training/export.py writes it. */
interface Answer {
  size: number;
  maps: string[];
  every: number;
  values: number[];
  skeleton: [number, number, number][];
}

/** PyTorch's answers for patches of the same picture; models/training/export_pads.py writes them. */
interface PadAnswers {
  size: number;
  patchPx: number;
  cellPx: number;
  patches: { left: number; top: number; values: number[]; place: PadPlace }[];
}

const beside = (name: string) => fileURLToPath(new URL(`../../models/checks/${name}`, import.meta.url));
const answer = JSON.parse(readFileSync(beside("dog.json"), "utf8")) as Answer;
const pads = JSON.parse(readFileSync(beside("pads.json"), "utf8")) as PadAnswers;

let site: Site;
let browser: Browser;
let page: Page;

beforeAll(async () => {
  site = await startSite();
  browser = await openBrowser();
  page = await openPage(browser);
});

afterAll(async () => {
  await browser?.close();
  await site?.close();
});

/** A page with our modules and the picture's bytes in it. */
async function openPage(browser: Browser): Promise<Page> {
  const page = await browser.newPage();
  await page.goto(site.file("tests/browser/pages/blank.html"));
  await page.addScriptTag({ type: "module", url: site.file("tests/browser/paws/page.ts") });
  await page.waitForFunction("globalThis.paws !== undefined");
  await page.evaluate(
    async ({ picture, size }) => {
      const bitmap = await createImageBitmap(await (await fetch(picture)).blob());
      const context = new OffscreenCanvas(size, size).getContext("2d")!;
      context.drawImage(bitmap, 0, 0);
      const rgba = context.getImageData(0, 0, size, size).data;
      Object.assign(globalThis, { bitmap, dog: Uint8Array.from(rgba.filter((_, i) => i % 4 !== 3)) });
    },
    { picture: site.file("models/checks/dog.png"), size: answer.size },
  );
  return page;
}

// Both live in the page: our modules, and the picture's bytes.
declare const paws: PawsPage;
declare const dog: Uint8Array;

test("the shipped files give PyTorch's maps on wasm", async () => {
  const values = await page.evaluate(
    async (every) => (await paws.rawMaps(dog)).filter((_, i) => i % every === 0),
    answer.every,
  );
  expect(values).toHaveLength(answer.values.length);
  const largest = Math.max(...values.map((v, i) => Math.abs(v - answer.values[i]!)));
  console.log(`largest difference from PyTorch: ${largest.toExponential(1)}`);
  expect(largest).toBeLessThan(0.001);
});

test("the shipped pad files give PyTorch's chances on wasm, and places are read off them as in training", async () => {
  const corners = pads.patches.map(({ left, top }) => ({ left, top }));
  const told = await page.evaluate(
    ({ size, patchPx, corners }) => paws.rawPads(paws.cutPatches(dog, size, patchPx, corners)),
    { size: pads.size, patchPx: pads.patchPx, corners },
  );
  expect(told).toHaveLength(pads.patches.length);
  const off = pads.patches.map(({ values }, k) => {
    expect(told[k]).toHaveLength(values.length);
    return Math.max(...values.map((v, i) => Math.abs(v - told[k]![i]!)));
  });
  console.log(`largest difference from PyTorch: ${Math.max(...off).toExponential(1)}`);
  expect(Math.max(...off)).toBeLessThan(0.001);
  // Paws and none among the patches, or their agreeing would say little.
  const paw = pads.patches.map(({ place }) => place.paw);
  expect(Math.max(...paw)).toBeGreaterThan(0.9);
  expect(Math.min(...paw)).toBeLessThan(0.1);
  const leastSd = pads.cellPx / Math.sqrt(12);
  pads.patches.forEach(({ place }, k) => {
    const read = decodePad(Float32Array.from(told[k]!), pads.cellPx);
    expect(read.paw).toBeCloseTo(place.paw, 2);
    // What is said of a paw where there is none is a quotient of two small numbers.
    if (place.paw < 0.1) return;
    expect(Math.hypot(read.x - place.x, read.y - place.y)).toBeLessThan(0.05);
    expect(read.sdX).toBeCloseTo(Math.max(leastSd, place.sdX), 1);
    expect(read.sdY).toBeCloseTo(Math.max(leastSd, place.sdY), 1);
    expect(read.sure).toBeCloseTo(place.sure, 2);
  });
});

test("the loaded network finds the dog and its paws", async () => {
  const seen = await page.evaluate(async () => {
    const network = await paws.loadPawNetwork();
    const sighting = await network.look(dog);
    const result = { backend: network.backend, inputPx: network.inputPx, sighting };
    network.dispose();
    return result;
  });
  // No graphics hardware in the test's browser: software graphics must not be chosen.
  expect(seen.backend).toBe("wasm");
  expect(seen.inputPx).toBe(answer.size);
  expect(seen.sighting.dogScore).toBeGreaterThan(0.5);
  const box = seen.sighting.dogBox!;
  for (const hind of [true, false]) {
    const best = seen.sighting.peaks.find((p) => p.hind > 0.5 === hind)!;
    // The dog faces right: hind paws in the left half of its box, all paws near its bottom.
    expect(best.x < box.x + box.width / 2).toBe(hind);
    expect(best.y).toBeGreaterThan(box.y + 0.6 * box.height);
  }
});

test("looking again and again keeps no tensors", async () => {
  const [before, after] = await page.evaluate(async () => {
    const network = await paws.loadPawNetwork({ backend: "wasm" });
    await network.look(dog);
    const start = paws.tensorsAlive();
    for (let i = 0; i < 5; i++) await network.look(dog);
    const end = paws.tensorsAlive();
    network.dispose();
    return [start, end];
  });
  expect(after).toBe(before);
});

test("any number of patches is answered one by one, and none by nothing", async () => {
  const seen = await page.evaluate(async () => {
    const network = await paws.loadPawNetwork({ backend: "wasm" });
    const { sidePx } = network.patch!;
    const bytes = 3 * sidePx * sidePx;
    const all = paws.trialPatches(sidePx, 7);
    const together = await network.pads!(all);
    const alone = [];
    for (let k = 0; k < 7; k++) alone.push(...(await network.pads!(all.slice(k * bytes, (k + 1) * bytes))));
    const start = paws.tensorsAlive();
    for (const n of [2, 5, 7]) await network.pads!(all.slice(0, n * bytes));
    const kept = paws.tensorsAlive() - start;
    const none = await network.pads!(new Uint8Array());
    const half = await network.pads!(all.slice(0, bytes / 2)).catch((e: Error) => e.message);
    network.dispose();
    return { together, alone, kept, none, half, sidePx };
  });
  expect(seen.together).toHaveLength(7);
  seen.together.forEach((place, k) => {
    expect(place.x).toBeCloseTo(seen.alone[k]!.x, 2);
    expect(place.y).toBeCloseTo(seen.alone[k]!.y, 2);
    expect(place.sure).toBeCloseTo(seen.alone[k]!.sure, 3);
  });
  // Seven different patches: an answer given to the wrong one would show.
  expect(new Set(seen.alone.map(({ x, y }) => `${x} ${y}`)).size).toBeGreaterThan(3);
  expect(seen.kept).toBe(0);
  expect(seen.none).toEqual([]);
  expect(seen.half).toMatch(/patches of 64 × 64/);
});

test("a picture of the wrong size and a missing file are refused in a sentence", async () => {
  const said = await page.evaluate(async () => {
    const network = await paws.loadPawNetwork({ backend: "wasm" });
    const size = await network.look(new Uint8Array(12)).catch((e: Error) => e.message);
    network.dispose();
    const missing = await paws
      .loadPawNetwork({ modelUrl: "/no-such-network.bin" })
      .catch((e: Error) => e.message);
    return { size, missing };
  });
  expect(said.size).toMatch(/wants 224 × 224/);
  expect(said.missing).toMatch(/could not be loaded/);
});

test("a backend that gives wrong places is not used, though it was remembered and its maps are right", async () => {
  const other = await openPage(browser);
  const weights = readFileSync(fileURLToPath(new URL("../../models/paws/pads.bin", import.meta.url)));
  // Halves of the file changed places: all sizes are right, no number is.
  const wrong = Buffer.concat([
    weights.subarray(weights.length / 2),
    weights.subarray(0, weights.length / 2),
  ]);
  await other.route(/pads\.bin/, (route) => route.fulfill({ body: wrong }));
  const said = await other.evaluate(() =>
    paws.loadPawNetwork({ backend: "wasm", remembered: "wasm" }).then(
      () => "loaded",
      (e: Error) => e.message,
    ),
  );
  await other.close();
  expect(said).toMatch(/gives no right answer on this device/);
});

test("pose-detection hosts the same weights and returns PyTorch's skeleton", async () => {
  const joints = await page.evaluate(async () => {
    const host = await paws.hostSkeleton({ backend: "wasm" });
    const pose = await host.pose(dog);
    host.dispose();
    return pose;
  });
  expect(joints).toHaveLength(17);
  answer.skeleton.forEach(([y, x, score], slot) => {
    // A joint with next to no score may sit anywhere on a flat map.
    if (score < 0.01) return;
    expect(joints[slot]!.x / answer.size).toBeCloseTo(x, 2);
    expect(joints[slot]!.y / answer.size).toBeCloseTo(y, 2);
    expect(joints[slot]!.score).toBeCloseTo(score, 2);
  });
});

test("WebGL, asked for, passes its trial and sees the same paws and pads", async () => {
  const drawing = await openBrowser({ webgl: true });
  try {
    const other = await openPage(drawing);
    const [onWasm, onWebGl] = await Promise.all(
      [
        [page, "wasm"],
        [other, "webgl"],
      ].map(([where, backend]) =>
        (where as Page).evaluate(async (name) => {
          const network = await paws.loadPawNetwork({ backend: name as "wasm" | "webgl" });
          const { peaks } = await network.look(dog);
          // More than go into one run.
          const pads = await network.pads!(paws.trialPatches(network.patch!.sidePx, 8));
          network.dispose();
          return { peaks, pads };
        }, backend as string),
      ),
    );
    for (const what of ["peaks", "pads"] as const) {
      expect(onWebGl![what]).toHaveLength(onWasm![what].length);
      onWasm![what].forEach((place, i) => {
        const other = onWebGl![what][i]!;
        expect(Math.hypot(place.x - other.x, place.y - other.y)).toBeLessThan(1);
      });
    }
  } finally {
    await drawing.close();
  }
});
