import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import axe from "axe-core";
import { unzipSync } from "fflate";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { Truth } from "../../fixtures/studio/truth.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";
import type { ExportsPage } from "./report/page.ts";

declare const exportsPage: ExportsPage;

const truth: Truth = JSON.parse(
  readFileSync(new URL("../../fixtures/clips/demo-fits.json", import.meta.url), "utf8"),
);

let site: Site;
let browser: Browser;
let page: Page;
let clipUrl: string;
let html: string;
const scratch = mkdtempSync(join(tmpdir(), "pawgap-report-"));

beforeAll(async () => {
  site = await startSite();
  browser = await openBrowser();
  page = await browser.newPage();
  clipUrl = site.file("fixtures/clips/demo-fits.mp4");
  await page.goto(site.file("tests/browser/pages/blank.html"));
  await page.addScriptTag({ type: "module", url: site.file("tests/browser/report/page.ts") });
  await page.waitForFunction("globalThis.exportsPage !== undefined");
  html = await page.evaluate(([url, truth]) => exportsPage.report(url, truth), [clipUrl, truth] as const);
});

afterAll(async () => {
  await browser?.close();
  await site?.close();
  rmSync(scratch, { recursive: true, force: true });
});

/** Opens report.html from disk, as its reader would, and notes everything it asks for or complains about. */
async function openReport(html: string, widthPx: number) {
  const path = join(scratch, "report.html");
  writeFileSync(path, html);
  const context = await browser.newContext({
    viewport: { width: widthPx, height: 844 },
    javaScriptEnabled: false,
  });
  const opened = await context.newPage();
  const complaints: string[] = [];
  const requests: string[] = [];
  opened.on("console", (message) => complaints.push(message.text()));
  opened.on("pageerror", (error) => complaints.push(error.message));
  opened.on("request", (request) => requests.push(request.url()));
  await opened.goto(pathToFileURL(path).href);
  return { opened, complaints, requests, close: () => context.close() };
}

/** Pages of a PDF, counted in its own page tree. */
function pageCount(pdf: Buffer): number {
  return pdf.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0;
}

test("report.html opens without a script, a request or a complaint, and prints to a few pages", async () => {
  expect(html.match(/<img src="data:image\/jpeg/g)?.length).toBeGreaterThanOrEqual(4);
  const { opened, complaints, requests, close } = await openReport(html, 900);
  expect(await opened.title()).toBe("Pole spacing report: Biscuit");
  for (const format of ["A4", "Letter"] as const) {
    const pdf = await opened.pdf({ format, preferCSSPageSize: false });
    writeFileSync(join(scratch, `${format}.pdf`), pdf);
    expect(pageCount(pdf), format).toBeGreaterThanOrEqual(3);
    expect(pageCount(pdf), format).toBeLessThanOrEqual(6);
  }
  expect(complaints).toEqual([]);
  expect(requests.filter((url) => !url.startsWith("data:") && !url.startsWith("file:"))).toEqual([]);
  await close();
});

test("report.html fits a phone and a desk without sideways scrolling", async () => {
  for (const [widthPx, wide] of [
    [360, false],
    [390, false],
    [900, true],
  ] as const) {
    const { opened, close } = await openReport(html, widthPx);
    // Scripts are off in the page; the driver measures from outside.
    const body = await opened.locator("body").boundingBox();
    const widest = await opened
      .locator("body *:visible")
      .evaluateAll((all) => Math.max(...all.map((one) => one.getBoundingClientRect().right)));
    expect(body!.width).toBeLessThanOrEqual(widthPx);
    expect(widest).toBeLessThanOrEqual(widthPx + 0.5);
    await expect.poll(() => opened.locator("#footprints-wide-title").count()).toBe(1);
    await expect.poll(() => opened.locator("svg[aria-labelledby^=footprints-wide]").isVisible()).toBe(wide);
    await expect
      .poll(() => opened.locator("svg[aria-labelledby^=footprints-narrow]").isVisible())
      .toBe(!wide);
    await close();
  }
});

test("report.html has no accessibility faults that axe can see", async () => {
  const context = await browser.newContext({ bypassCSP: true });
  const opened = await context.newPage();
  await opened.setContent(html);
  await opened.evaluate(axe.source);
  const faults = await opened.evaluate(async () => {
    const { axe } = globalThis as unknown as { axe: typeof import("axe-core") };
    const found = await axe.run(document);
    return found.violations.map(
      ({ id, nodes }) =>
        `${id}: ${nodes
          .map((node) => node.html)
          .join(" ")
          .slice(0, 300)}`,
    );
  });
  expect(faults).toEqual([]);
  await context.close();
});

test("every drawing is well-formed XML that can be taken out and shown alone", async () => {
  const broken = await page.evaluate((html) => {
    const drawings = [...html.matchAll(/<svg xmlns.*?<\/svg>/gs)].map(([svg]) => svg);
    const faults = drawings.map(
      (svg) =>
        new DOMParser().parseFromString(svg, "image/svg+xml").querySelector("parsererror")?.textContent,
    );
    return { drawings: drawings.length, faults: faults.filter(Boolean) };
  }, html);
  expect(broken.drawings).toBeGreaterThanOrEqual(10);
  expect(broken.faults).toEqual([]);
});

test("the zip holds one picture a landing, with the paw's mark where the paw stands", async () => {
  const made = await page.evaluate(([url, truth]) => exportsPage.frames(url, truth), [
    clipUrl,
    truth,
  ] as const);
  const files = unzipSync(Buffer.from(made.zip, "base64"));
  expect(Object.keys(files)).toHaveLength(made.places.length);
  expect(made.progress.at(-1)).toBe(1);
  const right = made.places.find((place) => place.paw === "RH" && place.timeS > 2)!;
  const name = Object.keys(files).find((file) =>
    file.includes(`${right.timeS.toFixed(3).padStart(8, "0")}s`),
  )!;
  expect(name).toMatch(/^pass-1_\d{4}\.\d{3}s_gap-\d_right-hind\.png$/);
  // The right hind mark is filled with the right side's orange, in the middle of the stance.
  const colour = await page.evaluate(
    async ({ png, x, y }) => {
      const blob = await (await fetch(`data:image/png;base64,${png}`)).blob();
      const bitmap = await createImageBitmap(blob);
      const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext("2d")!;
      context.drawImage(bitmap, 0, 0);
      const scale = bitmap.width / 1280;
      return { width: bitmap.width, pixel: [...context.getImageData(x * scale, y * scale, 1, 1).data] };
    },
    { png: Buffer.from(files[name]!).toString("base64"), ...right.at },
  );
  expect(colour.width).toBe(960);
  const orange = [0xb8, 0x41, 0x0a];
  orange.forEach((channel, i) => {
    expect(Math.abs(colour.pixel[i]! - channel)).toBeLessThanOrEqual(3);
  });
});

test("the marked film plays in another reader and keeps the true distances between frames", async () => {
  const made = await page.evaluate(([url, truth]) => exportsPage.film(url, truth), [clipUrl, truth] as const);
  expect(made.type).toBe("video/mp4");
  expect(made.facts.widthPx).toBe(640);
  // Sixty frames a second in, thirty out: every second one.
  const wanted = made.times.filter((_, i) => i % 2 === 0);
  expect(made.timesS).toHaveLength(wanted.length);
  made.timesS.forEach((time, i) => {
    expect(time).toBeCloseTo(wanted[i]! - wanted[0]!, 3);
  });
  expect(made.progress.at(-1)).toBe(1);
});

test("both exports stop when asked to", async () => {
  for (const what of ["frames", "film"] as const) {
    const ended = await page.evaluate(([url, truth, what]) => exportsPage.stopped(url, truth, what), [
      clipUrl,
      truth,
      what,
    ] as const);
    expect(["AbortError", "ClipError"]).toContain(ended);
  }
});

test("with nothing found, both exports say what to do", async () => {
  const sentences = await page.evaluate(([url, truth]) => exportsPage.nothingFound(url, truth), [
    clipUrl,
    truth,
  ] as const);
  expect(sentences).toHaveLength(2);
  for (const sentence of sentences) expect(sentence).toContain("Find or place landings first");
});
