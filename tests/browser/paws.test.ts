import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
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

const beside = (name: string) => fileURLToPath(new URL(`../../models/checks/${name}`, import.meta.url));
const answer = JSON.parse(readFileSync(beside("dog.json"), "utf8")) as Answer;

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

test("WebGL, asked for, passes its trial and sees the same paws", async () => {
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
          network.dispose();
          return peaks;
        }, backend as string),
      ),
    );
    expect(onWebGl).toHaveLength(onWasm!.length);
    onWasm!.forEach((peak, i) => {
      expect(Math.hypot(peak.x - onWebGl![i]!.x, peak.y - onWebGl![i]!.y)).toBeLessThan(1);
    });
  } finally {
    await drawing.close();
  }
});
