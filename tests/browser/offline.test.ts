import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { buildIfNeeded } from "../../src/command/prepare.mjs";
import { serveSite } from "../../src/command/site.mjs";
import { openBrowser } from "./harness.ts";

let site: Awaited<ReturnType<typeof serveSite>>;
let browser: Browser;

beforeAll(async () => {
  buildIfNeeded();
  [site, browser] = await Promise.all([serveSite(), openBrowser()]);
});

afterAll(async () => {
  await browser?.close();
  await site?.close();
});

describe("the built app", () => {
  it("asks nobody but its own server, and starts again with the network cut", async () => {
    const context = await browser.newContext();
    const page = await context.newPage();
    const strangers: string[] = [];
    const refused: string[] = [];
    context.on("request", (request) => {
      const url = new URL(request.url());
      if (
        ["http:", "https:", "ws:", "wss:"].includes(url.protocol) &&
        url.origin !== new URL(site.url).origin
      ) {
        strangers.push(request.url());
      }
    });
    page.on("console", (message) => {
      if (/Content Security Policy/.test(message.text())) refused.push(message.text());
    });
    await page.goto(site.url);
    await page.getByRole("button", { name: /demo clip/i }).waitFor();
    await page.evaluate(async () => {
      await navigator.serviceWorker.ready;
      // The first visit's worker takes over with the next page load only; its files are kept by now.
      while (!(await caches.keys()).length) await new Promise((done) => setTimeout(done, 100));
    });
    await context.setOffline(true);
    await page.reload();
    await page.getByRole("button", { name: /demo clip/i }).waitFor();
    // What the job needs is there too: the network's weights and the demo clip, not only the first screen.
    const kept = await page.evaluate(async () => {
      const names = await caches.keys();
      const lists = await Promise.all(names.map(async (n) => (await caches.open(n)).keys()));
      return lists.flat().map((request) => new URL(request.url).pathname);
    });
    expect(kept.some((path) => /paws-.*\.bin$/.test(path))).toBe(true);
    expect(kept.some((path) => /demo-.*\.mp4$/.test(path))).toBe(true);
    expect(kept.some((path) => /ffmpeg-core/.test(path))).toBe(false);
    expect(strangers).toEqual([]);
    expect(refused).toEqual([]);
    await context.close();
  });
});
