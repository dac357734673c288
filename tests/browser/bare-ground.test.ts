import { mkdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, it } from "vitest";
import type { Truth } from "../../fixtures/studio/truth.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";

// A dog is filmed over bare ground between two marks, and its row is planned from what was measured.

const clip = fileURLToPath(new URL("../../fixtures/clips/bare-ground.mp4", import.meta.url));
const truth: Truth = JSON.parse(
  readFileSync(new URL("../../fixtures/clips/bare-ground.json", import.meta.url), "utf8"),
);
const shots = process.env.PAWGAP_SHOTS;
if (shots) mkdirSync(shots, { recursive: true });

let site: Site;
let browser: Browser;
beforeAll(async () => {
  site = await startSite();
  browser = await openBrowser();
});
afterAll(async () => {
  await browser?.close();
  await site?.close();
});

/** Taps both ends of each mark where the studio knows them to be. */
async function tapMarks(page: Page): Promise<void> {
  await page.locator(".stage").waitFor();
  await page.locator(".stage-wait").waitFor({ state: "detached" });
  const box = await page.locator(".stage").boundingBox();
  if (!box) throw new Error("There is no picture on this screen.");
  const { widthPx, heightPx } = truth.picture;
  const scale = Math.min(box.width / widthPx, box.height / heightPx);
  for (const [k, { near, far }] of truth.marks.poles.entries()) {
    for (const [end, point] of [
      ["near", near],
      ["far", far],
    ] as const) {
      await page.getByText(`Tap pole ${k + 1}, ${end} end`).waitFor();
      await page.mouse.click(
        box.x + (box.width - widthPx * scale) / 2 + (point?.x ?? 0) * scale,
        box.y + (box.height - heightPx * scale) / 2 + (point?.y ?? 0) * scale,
      );
    }
  }
}

it("gives the dog's own step to a centimetre, and the next row begins from it", {
  timeout: 400_000,
}, async () => {
  const page = await browser.newPage({ viewport: { width: 390, height: 844 } });
  page.setDefaultTimeout(120_000);
  await page.goto(`${site.url}#/dogs/new`);
  await page.getByLabel("Name").fill("Biscuit");
  await page.getByRole("radio", { name: "Trot" }).check();
  await page.getByRole("button", { name: "Done" }).click();
  await page.getByRole("link", { name: "Check a clip" }).click();
  await page.getByLabel("Check a clip", { exact: true }).setInputFiles(clip);
  await page.getByRole("heading", { name: "Clip", level: 1, exact: true }).waitFor();
  await page.getByRole("radio", { name: "two marks only" }).check();
  if (shots) await page.screenshot({ path: join(shots, "bare-clip.png"), fullPage: true });
  await page.getByRole("button", { name: "Mark the poles" }).click();
  await page.getByRole("heading", { name: "Poles", level: 1, exact: true }).waitFor();
  await tapMarks(page);
  await page.getByLabel("Spacing, pole to pole").fill("300");
  await page.getByLabel(/Pole length/).fill("100");
  await page.getByLabel(/Height tapped/).fill("2.5");
  await page.getByRole("button", { name: "Find the landings" }).click();
  await page.getByRole("heading", { name: "Natural step" }).waitFor({ timeout: 300_000 });
  if (shots) await page.screenshot({ path: join(shots, "bare-verdict.png"), fullPage: true });
  const step = await page.locator(".act-on strong").textContent();
  expect(Math.abs(Number.parseFloat(step ?? "") - 100 * truth.stepM)).toBeLessThan(1);

  await page.getByRole("link", { name: "Layout", exact: true }).click();
  await page.getByText(`Its own step at a trot, measured over bare ground: ${step}`).waitFor();
  await page.getByRole("button", { name: "Plan this row" }).click();
  const row = page.getByRole("img", { name: /The row to scale/ });
  await expect.poll(() => row.locator("desc").textContent()).toMatch(/0, 4[789], 9\d/);
  await page.context().close();
});
