import type { Browser } from "playwright-core";
import { afterAll, beforeAll, expect, it } from "vitest";
import { flipped, misnamed, readOddFiles, truncated, wholeFiles } from "./field/odd.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";

let site: Site;
let browser: Browser;

beforeAll(async () => {
  site = await startSite({ built: true, page: "tests/browser/pages/field.html" });
  browser = await openBrowser();
});

afterAll(async () => {
  await browser?.close();
  await site?.close();
});

/** What the museum got after video.test.ts was written. */
const NEW = /10$|new web|still pictures|studio camera|fragments|deep b|uneven repeats|odd size|odd crop|zero/;

const quick = [
  "plain-60.mp4",
  "turned-90.mov",
  "open-web.webm",
  "fragments.mp4",
  "before-zero.mp4",
  "repeats.mp4",
];

/** Broke the reader once: damage after the last key frame, and headers that lie. */
const found = [24, 39, 57, 6].map((k) => `flip-3-${k}-`);

// Many more, and large ones: npm run bench -- field
it.each([
  [
    "every file of the museum that video.test.ts does not read",
    () => wholeFiles().filter(({ about, truth }) => truth && NEW.test(about)),
  ],
  [
    "files under a wrong name, empty ones and nonsense",
    () => misnamed().filter(({ name }) => !/mov|ending/.test(name)),
  ],
  ["files cut off anywhere", () => truncated(5, quick.slice(0, 4))],
  ["files with bits turned over", () => flipped(20, 11, quick)],
  [
    "files that broke the reader once",
    () => flipped(120, 3).filter(({ name }) => found.some((one) => name.startsWith(one))),
  ],
])("reads or refuses with a sentence: %s", async (_, files) => {
  const results = await readOddFiles(browser, site.url, files());
  expect(results.length).toBeGreaterThan(2);
  expect(results.filter(({ fault }) => fault !== null)).toEqual([]);
});
