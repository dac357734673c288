import { readFileSync } from "node:fs";
import axe from "axe-core";
import { csvParse } from "d3";
import { unzipSync } from "fflate";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, beforeEach, expect, test } from "vitest";
import type { Truth } from "../../fixtures/studio/truth.ts";
import { resultSchema } from "../../src/report/result.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";
import type { Seeds } from "./report/seed.ts";

declare const seeds: Seeds;

const truth: Truth = JSON.parse(
  readFileSync(new URL("../../fixtures/clips/demo-fits.json", import.meta.url), "utf8"),
);

let site: Site;
let browser: Browser;
let page: Page;
let clipIds: string[];

beforeAll(async () => {
  site = await startSite();
  browser = await openBrowser();
});

afterAll(async () => {
  await browser?.close();
  await site?.close();
});

beforeEach(async () => {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, acceptDownloads: true });
  page = await context.newPage();
  clipIds = await kept(1);
  return () => context.close();
});

async function kept(clips: number): Promise<string[]> {
  await page.goto(site.file("tests/browser/pages/blank.html"));
  await page.addScriptTag({ type: "module", url: site.file("tests/browser/report/seed.ts") });
  await page.waitForFunction("globalThis.seeds !== undefined");
  return page.evaluate(([url, truth, clips]) => seeds.seed(url, truth, clips), [
    site.file("fixtures/clips/demo-fits.mp4"),
    truth,
    clips,
  ] as const);
}

async function openScreen(): Promise<void> {
  await page.goto(`${site.url}#/clip/${clipIds[0]}/report`);
  await page.frameLocator(".report-sheet").getByText("Juniper: do the poles fit its stride?").waitFor();
}

async function everyLanding(): Promise<void> {
  await page.getByRole("radio", { name: "Every landing" }).check();
  await page.frameLocator(".report-sheet").getByText("All landings").waitFor();
}

async function taken(name: string): Promise<{ name: string; bytes: Buffer }> {
  const [download] = await Promise.all([
    // Encoding a film without a graphics card takes its time.
    page.waitForEvent("download", { timeout: 240_000 }),
    page.getByRole("button", { name }).click(),
  ]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

test("shows the report as it prints, for the width it has, without a second scroll bar", async () => {
  await openScreen();
  await everyLanding();
  const sheet = page.frameLocator(".report-sheet");
  for (const [widthPx, wide] of [
    [390, false],
    [1440, true],
  ] as const) {
    await page.setViewportSize({ width: widthPx, height: 844 });
    await sheet.locator(`svg[aria-labelledby^=footprints-${wide ? "wide" : "narrow"}]`).waitFor();
    await expect.poll(() => sheet.locator("svg[aria-labelledby^=footprints-wide]").isVisible()).toBe(wide);
    const scrolls = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    expect(scrolls).toBeLessThanOrEqual(0);
    await page.waitForFunction(() => {
      const frame = document.querySelector<HTMLIFrameElement>(".report-sheet")!;
      return Math.abs(frame.contentDocument!.documentElement.scrollHeight - frame.clientHeight) <= 2;
    });
  }
  await sheet.getByText("While growth plates may be open", { exact: false }).waitFor();
  await sheet.getByText("A. Lindqvist").waitFor();
});

test("begins with the report on one page, which prints on one sheet", async () => {
  await openScreen();
  const sheet = page.frameLocator(".report-sheet");
  await sheet.getByText("To know").waitFor();
  expect(await sheet.getByText("All landings").count()).toBe(0);
  const html = await taken("Report page");
  const paper = await (await browser.newContext()).newPage();
  await paper.setContent(html.bytes.toString());
  const pdf = await paper.pdf({ format: "A4" });
  expect(pdf.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g)).toHaveLength(1);
  await paper.context().close();
  // The frame that is printed from wears the same look as the file.
  await expect.poll(() => sheet.locator("body.one-page").count()).toBe(1);
});

test("prints the sheet, not the screen around it", async () => {
  await openScreen();
  await page.evaluate(() => {
    const inner = document.querySelector<HTMLIFrameElement>(".report-sheet")!.contentWindow!;
    inner.print = () => document.body.setAttribute("data-printed", inner.document.title);
  });
  await page.getByRole("button", { name: "Print or save as PDF" }).click();
  await expect.poll(() => page.getAttribute("body", "data-printed")).toBe("Pole spacing report: Juniper");
});

test("shares the page where the device has a share sheet, and takes a refusal calmly", async () => {
  // Headless Chromium has no share sheet: the device's side is played here, ours is real.
  await page.addInitScript(() => {
    const shared: { name: string; type: string; size: number }[] = [];
    Object.assign(globalThis, { shared });
    Object.assign(navigator, {
      canShare: () => true,
      share: async ({ files }: ShareData) => {
        for (const { name, type, size } of files ?? []) shared.push({ name, type, size });
        throw new DOMException("closed", "AbortError");
      },
    });
  });
  await openScreen();
  await page.getByRole("button", { name: "Share" }).click();
  const shared = await page.evaluate(() => (globalThis as unknown as { shared: object[] }).shared);
  expect(shared).toEqual([
    { name: "juniper-2026-03-14-report.html", type: "text/html", size: expect.any(Number) },
  ]);
  expect(await page.getByRole("alert").count()).toBe(0);
});

test("hands out page, landings and numbers", async () => {
  await openScreen();
  const html = await taken("Report page");
  expect(html.name).toBe("juniper-2026-03-14-report.html");
  expect(html.bytes.toString()).toContain("Juniper: do the poles fit its stride?");

  const csv = await taken("Landings CSV");
  expect(csv.name).toBe("juniper-2026-03-14-landings.csv");
  const inPass = truth.landings.length;
  expect(csvParse(csv.bytes.toString())).toHaveLength(inPass);

  const json = await taken("All numbers");
  expect(json.name).toBe("juniper-2026-03-14-result.json");
  const result = resultSchema.parse(JSON.parse(json.bytes.toString()));
  expect(result.passes.flatMap((pass) => pass.landings)).toHaveLength(inPass);
  expect(result.verdict.kind).toBe("fits");
});

test("hands out pictures and the marked film, one after the other", async () => {
  await openScreen();
  const zip = await taken("Pictures every landing");
  expect(zip.name).toBe("juniper-2026-03-14-landings.zip");
  expect(Object.keys(unzipSync(zip.bytes))).toHaveLength(truth.landings.length);
  const film = await taken("Marked film poles");
  expect(film.name).toBe("juniper-2026-03-14-marked.mp4");
  // ISO 14496-12: an MP4 begins with a box of type "ftyp".
  expect(film.bytes.subarray(4, 8).toString()).toBe("ftyp");
});

test("stops an export when asked to and can start another", async () => {
  await openScreen();
  await page.getByRole("button", { name: "Marked film poles" }).click();
  await page.getByRole("button", { name: "Stop" }).click();
  await page.getByRole("button", { name: "Stop" }).waitFor({ state: "detached" });
  expect(await page.getByText("is in your downloads").count()).toBe(0);
  expect((await taken("Landings CSV")).bytes.length).toBeGreaterThan(500);
});

test("puts film pictures into the report and takes them out again", async () => {
  await openScreen();
  await everyLanding();
  const pictures = page.frameLocator(".report-sheet").locator(".frames img");
  await page.getByRole("button", { name: "Film pictures into the report" }).click();
  await pictures.first().waitFor();
  await expect.poll(() => pictures.count()).toBeGreaterThanOrEqual(4);
  await page.getByRole("button", { name: "Leave film pictures out" }).click();
  expect(await pictures.count()).toBe(0);
});

test("says what to do when the film is gone, and still gives everything else", async () => {
  await page.evaluate((id) => seeds.forgetFilm(id), clipIds[0]!);
  await openScreen();
  await page.getByRole("button", { name: "Pictures every landing" }).click();
  await page.getByText("is not kept on this device any more").waitFor();
  expect((await taken("All numbers")).name).toContain("result.json");
});

test("a session of two clips gives each clip's numbers and pictures", async () => {
  clipIds = await kept(2);
  await openScreen();
  const zip = await taken("All numbers");
  const results = Object.values(unzipSync(zip.bytes)).map((bytes) =>
    resultSchema.parse(JSON.parse(Buffer.from(bytes).toString())),
  );
  expect(results).toHaveLength(2);
  for (const result of results) expect(result.passes[0]!.used).toBe(true);
  const csv = csvParse((await taken("Landings CSV")).bytes.toString());
  expect(csv).toHaveLength(2 * truth.landings.length);
  expect(new Set(csv.map((row) => row.landing)).size).toBe(csv.length);
  await expect.poll(() => page.getByRole("button", { name: "Pictures of clip 2" }).count()).toBe(1);
});

test("has no accessibility faults that axe can see", async () => {
  await openScreen();
  await page.evaluate(axe.source);
  const faults = await page.evaluate(async () => {
    const { axe } = globalThis as unknown as { axe: typeof import("axe-core") };
    const found = await axe.run(document, { iframes: false });
    return found.violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html.slice(0, 200)}`);
  });
  expect(faults).toEqual([]);
});
