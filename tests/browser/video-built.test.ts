import { readFileSync } from "node:fs";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, it } from "vitest";
import { openBrowser, type Site, startSite } from "./harness.ts";

const truths: Record<
  string,
  { timesS: number[]; storedWidth: number; storedHeight: number; rotationDeg: number }
> = JSON.parse(readFileSync(new URL("../../fixtures/odd/truth.json", import.meta.url), "utf8"));

let site: Site;
let browser: Browser;
let page: Page;
const outside: string[] = [];

beforeAll(async () => {
  site = await startSite({ built: true, page: "tests/browser/pages/video.html", files: "fixtures/odd" });
  browser = await openBrowser();
  page = await browser.newPage();
  const { origin } = new URL(site.url);
  page.on("request", (request) => {
    const url = request.url();
    if (!url.startsWith(origin) && !/^(blob|data):/.test(url)) outside.push(url);
  });
  await page.goto(site.url);
  await page.waitForFunction(() => "clips" in window);
});

afterAll(async () => {
  await browser?.close();
  await site?.close();
});

it.each(["plain-60.mp4", "phone-hevc.mov"])(
  "reads %s from a production build, inside a worker",
  async (name) => {
    const truth = truths[name];
    if (!truth) throw new Error(`No truth for ${name}.`);
    const { frames } = await page.evaluate(([url, truth]) => window.clips.askWorker("readAll", url, truth), [
      new URL(name, site.url).href,
      truth,
    ] as const);
    expect(frames.map(({ number }) => number)).toEqual(truth.timesS.map((_, index) => index));
  },
);

it("reads a clip that only ffmpeg decodes on the page as well", async () => {
  const name = "turned-90-hevc.mov";
  const truth = truths[name];
  if (!truth) throw new Error(`No truth for ${name}.`);
  const { frames } = await page.evaluate(([url, truth]) => window.clips.page.readAll(url, truth), [
    new URL(name, site.url).href,
    truth,
  ] as const);
  expect(frames).toHaveLength(truth.timesS.length);
});

it("asks no other host for anything", () => {
  expect(outside).toEqual([]);
});
