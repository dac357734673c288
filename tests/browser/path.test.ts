import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";
import axe from "axe-core";
import { csvParse, type DSVRowString } from "d3";
import type { Browser, BrowserContext, Page } from "playwright-core";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import type { Paw } from "../../src/gait/types.ts";
import { fitGround } from "../../src/ground/fit.ts";
import { groundToImage } from "../../src/ground/map.ts";
import type { ImagePoint, PoleMarks } from "../../src/ground/types.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";

/** What the studio knows of a clip that it rendered. */
interface Truth {
  picture: { widthPx: number; heightPx: number; frames: number; fps: number };
  marks: PoleMarks;
  landings: { paw: Paw; onS: number; offS: number; xM: number; yM: number }[];
  spacingM: number;
  stepM: number;
  verdict: string;
}

const clipFile = fileURLToPath(new URL("../../fixtures/clips/demo-fits.mp4", import.meta.url));
const truth: Truth = JSON.parse(
  readFileSync(new URL("../../fixtures/clips/demo-fits.json", import.meta.url), "utf8"),
);
const phone = { width: 390, height: 844 };

let site: Site;
let browser: Browser;
let context: BrowserContext;

beforeAll(async () => {
  site = await startSite({ built: true });
  browser = await openBrowser();
});

afterEach(async () => {
  await context?.close();
});

afterAll(async () => {
  await browser?.close();
  await site?.close();
});

async function openApp(options: { touch?: boolean; night?: boolean } = {}): Promise<Page> {
  context = await browser.newContext({
    viewport: phone,
    hasTouch: options.touch ?? false,
    colorScheme: options.night ? "dark" : "light",
    acceptDownloads: true,
  });
  const page = await context.newPage();
  await page.goto(site.url);
  await page.getByText("Check a clip", { exact: true }).waitFor();
  return page;
}

async function takeClip(page: Page): Promise<void> {
  await page.getByLabel("Check a clip", { exact: true }).setInputFiles(clipFile);
  await page.getByRole("heading", { name: "Clip", exact: true }).waitFor();
}

/** Where an image point lies on the page while the whole picture is shown. */
async function onPage(page: Page, point: ImagePoint): Promise<ImagePoint> {
  const box = await page.locator(".stage").boundingBox();
  if (!box) throw new Error("There is no picture on this screen.");
  const { widthPx, heightPx } = truth.picture;
  const scale = Math.min(box.width / widthPx, box.height / heightPx);
  return {
    x: box.x + (box.width - widthPx * scale) / 2 + point.x * scale,
    y: box.y + (box.height - heightPx * scale) / 2 + point.y * scale,
  };
}

async function pictureShown(page: Page): Promise<void> {
  await page.locator(".stage").waitFor();
  await page.locator(".stage-wait").waitFor({ state: "detached" });
}

/** Taps a row of four poles anywhere: for films on which there is none. */
async function tapAnyRow(page: Page): Promise<void> {
  await page.getByRole("button", { name: "Mark the poles" }).click();
  await page.getByRole("heading", { name: "Poles", exact: true, level: 1 }).waitFor();
  await pictureShown(page);
  await page.getByRole("button", { name: "Snap to the pole's end" }).click();
  const box = await page.locator(".stage").boundingBox();
  if (!box) throw new Error("There is no picture on this screen.");
  for (let pole = 0; pole < 4; pole++) {
    await page.mouse.click(box.x + 100 + 50 * pole, box.y + box.height / 2 + 40);
    await page.mouse.click(box.x + 110 + 45 * pole, box.y + box.height / 2 + 10);
  }
  await page.getByLabel("Spacing, pole to pole").fill("50");
}

async function wholePicture(page: Page): Promise<void> {
  const button = page.getByRole("button", { name: "Whole picture" });
  if (await button.isEnabled()) await button.click();
}

async function tapPoles(page: Page, poles: PoleMarks["poles"], touch: boolean): Promise<void> {
  await pictureShown(page);
  for (const [k, pole] of poles.entries()) {
    for (const end of ["near", "far"] as const) {
      const point = pole[end];
      if (!point) continue;
      const at = await onPage(page, point);
      await page.getByText(`Tap pole ${k + 1}, ${end} end`).waitFor();
      if (touch) await page.touchscreen.tap(at.x, at.y);
      else await page.mouse.click(at.x, at.y);
    }
  }
}

async function toPoles(page: Page): Promise<void> {
  await takeClip(page);
  await page.getByRole("button", { name: "Mark the poles" }).click();
  await page.getByRole("heading", { name: "Poles", exact: true, level: 1 }).waitFor();
}

async function markRow(page: Page, touch = false): Promise<void> {
  await tapPoles(page, truth.marks.poles, touch);
  await page.getByLabel("Spacing, pole to pole").fill("50");
  await page.getByLabel(/Pole length/).fill("100");
  await page.getByLabel(/Height tapped/).fill("6");
}

function stanceBars(page: Page) {
  return page.getByRole("region", { name: "When each paw stands" }).getByRole("button");
}

/** Rows of the landings export by column name. */
async function landingsCsv(page: Page): Promise<DSVRowString[]> {
  const [download] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name: /CSV/ }).click(),
  ]);
  const text = readFileSync((await download.path()) ?? "", "utf8");
  return [...csvParse(text.replace(/^\uFEFF/, ""))];
}

async function expectNoBarrier(page: Page): Promise<void> {
  await page.evaluate(axe.source);
  const found = await page.evaluate(async () => {
    const run = (window as unknown as { axe: { run: (options: object) => Promise<axe.AxeResults> } }).axe.run;
    const { violations } = await run({
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"],
      // The report is a page of its own with its own test.
      exclude: [["iframe"]],
    });
    return violations.map(
      ({ id, nodes }) => `${id}: ${nodes.map((node) => node.html.slice(0, 120)).join(" | ")}`,
    );
  });
  expect(found).toEqual([]);
}

describe("the path of one clip", () => {
  it("goes by touch from a file over the poles to a verdict, and finds everything again after a reload", async () => {
    const page = await openApp({ touch: true });
    await toPoles(page);
    await markRow(page, true);
    // The taps lie on the poles' ends: no pole may be off by more than a finger's breadth.
    await page.locator(".pole-list-off").nth(5).waitFor();
    const offs = await page.locator(".pole-list-off").allTextContents();
    expect(offs).toHaveLength(6);
    for (const off of offs) expect(Math.abs(Number.parseFloat(off.replace("−", "-")))).toBeLessThan(2.5);
    await expectNoBarrier(page);

    await page.getByRole("button", { name: "Find the landings" }).click();
    await page.getByRole("progressbar", { name: "How much is done" }).waitFor();
    await page.getByRole("heading", { name: "Verdict", exact: true }).waitFor({ timeout: 240_000 });
    const sentence = await page.locator(".verdict-sentence").textContent();
    await expect.poll(() => page.locator(".verdict").getAttribute("data-kind")).toBe(truth.verdict);
    await expectNoBarrier(page);

    await page.reload();
    await page.getByRole("heading", { name: "Verdict", exact: true }).waitFor();
    await expect.poll(() => page.locator(".verdict-sentence").textContent()).toBe(sentence);

    await page.goto(site.url);
    await page.reload();
    await page.getByRole("link", { name: /No dog named/ }).click();
    await page.getByRole("heading", { name: "Verdict", exact: true }).waitFor();
    await expect.poll(() => page.locator(".verdict-sentence").textContent()).toBe(sentence);
    await page.getByRole("link", { name: "Poles" }).click();
    await page.locator(".pole-list li").nth(5).waitFor();
    await expect.poll(() => page.getByLabel("Spacing, pole to pole").inputValue()).toBe("50");
  });

  it("runs the demo clip with one click; a corrected landing changes, comes back, and is told apart in the export", async () => {
    const page = await openApp();
    await page.getByRole("button", { name: "Try the demo clip" }).click();
    await page.getByRole("heading", { name: "Verdict", exact: true }).waitFor({ timeout: 240_000 });

    await page.getByRole("navigation").getByRole("link", { name: "Landings" }).click();
    await stanceBars(page).first().waitFor();
    await expectNoBarrier(page);
    const before = await stanceBars(page).evaluateAll((bars) => bars.map((bar) => bar.ariaLabel));
    await expect.poll(() => page.getByRole("button", { name: "Undo" }).isDisabled()).toBe(true);

    await stanceBars(page).nth(1).click();
    const panel = page.getByRole("region", { name: "The chosen landing" });
    await panel.getByRole("button", { name: "Delete this landing" }).click();
    await expect.poll(() => stanceBars(page).count()).toBe(before.length - 1);
    await page.getByRole("button", { name: "Undo" }).click();
    await expect
      .poll(() => stanceBars(page).evaluateAll((bars) => bars.map((bar) => bar.ariaLabel)))
      .toEqual(before);

    // Dragged on the picture: chosen, brought to its frame, moved by some pixels.
    await stanceBars(page).nth(1).click();
    await wholePicture(page);
    const mark = await page.locator(".stage-overlay g[data-chosen]").boundingBox();
    if (!mark) throw new Error("The chosen landing is not on the picture.");
    const from = { x: mark.x + mark.width / 2, y: mark.y + mark.height / 2 };
    await page.mouse.move(from.x, from.y);
    await page.mouse.down();
    await page.mouse.move(from.x + 12, from.y, { steps: 4 });
    await page.locator(".loupe").waitFor();
    await page.mouse.up();
    await panel.getByText("by hand").waitFor();

    await page.getByRole("navigation").getByRole("link", { name: "Report" }).click();
    await page.getByRole("heading", { name: "Report", exact: true }).waitFor();
    const rows = await landingsCsv(page);
    expect(rows).toHaveLength(before.length);
    expect(rows.filter((row) => row.source === "hand")).toHaveLength(1);
  });

  it("lets a whole clip be marked by hand where truth is known: places within 3 cm, and no wrong verdict", async () => {
    const page = await openApp();
    await toPoles(page);
    await markRow(page);
    await page.getByRole("navigation").getByRole("link", { name: "Landings" }).click();
    await page.getByRole("heading", { name: "Landings", exact: true }).waitFor();

    const map = fitGround(truth.marks, truth.picture).map;
    if (!map) throw new Error("The truth's own marks give no ground.");
    const rowEnd = truth.spacingM * (truth.marks.poles.length - 1);
    const hind = truth.landings.filter((one) => one.paw.endsWith("H") && one.xM > 0 && one.xM < rowEnd);
    expect(hind.length).toBeGreaterThanOrEqual(5);
    const names = { LH: "left hind", RH: "right hind", LF: "left fore", RF: "right fore" };
    for (const landing of hind) {
      const frame = Math.round(((landing.onS + landing.offS) / 2) * truth.picture.fps);
      await page.getByRole("slider", { name: "Frame" }).fill(String(frame));
      const button = page.getByRole("button", { name: `Add a ${names[landing.paw]} landing` });
      if (!(await button.isVisible())) {
        await page.getByRole("button", { name: "Close" }).click();
      }
      if ((await button.getAttribute("aria-pressed")) !== "true") await button.click();
      await wholePicture(page);
      const at = await onPage(page, groundToImage(map, landing));
      await page.mouse.click(at.x, at.y);
    }
    await expect.poll(() => stanceBars(page).count()).toBe(hind.length);

    await page.getByRole("button", { name: "To the verdict" }).click();
    await page.getByRole("heading", { name: "Verdict", exact: true }).waitFor();
    // Five landings of one pass, from a camera 80 cm up, are just enough to be sure, or just not.
    const kind = await page.locator(".verdict").getAttribute("data-kind");
    expect([truth.verdict, "cannot-tell"]).toContain(kind);
    await page
      .getByText(kind === truth.verdict ? "Keep them at" : "film about 1 more pass")
      .first()
      .waitFor();
    const shift = /shift (−?[\d.]+) cm per gap \(95 % interval (−?[\d.]+) to (−?[\d.]+) cm\)/;
    const told = shift.exec((await page.locator("main").textContent()) ?? "")?.slice(1) ?? [];
    const [, low = Number.NaN, high = Number.NaN] = told.map((n) => Number(n.replace("−", "-")));
    const trueShiftCm = 100 * (truth.stepM - truth.spacingM);
    expect(low).toBeLessThan(trueShiftCm);
    expect(high).toBeGreaterThan(trueShiftCm);

    await page.getByRole("link", { name: "Report" }).first().click();
    await page.getByRole("heading", { name: "Report", exact: true }).waitFor();
    const rows = await landingsCsv(page);
    expect(rows).toHaveLength(hind.length);
    for (const [k, row] of rows.entries()) {
      expect(row.source).toBe("hand");
      expect(row.paw).toBe(hind[k]?.paw);
      expect(Math.abs(Number(row.x_m) - (hind[k]?.xM ?? 0))).toBeLessThan(0.03);
    }
  });
});

describe("the picture under two fingers", () => {
  it("grows about the point between them, and no pole is marked by it", async () => {
    const page = await openApp({ touch: true });
    await toPoles(page);
    await pictureShown(page);
    const box = await page.locator(".stage").boundingBox();
    if (!box) throw new Error("There is no picture on this screen.");
    const middle = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
    const fingers = (apart: number) => [
      { x: middle.x - apart, y: middle.y, id: 0 },
      { x: middle.x + apart, y: middle.y, id: 1 },
    ];
    const touch = await context.newCDPSession(page);
    await touch.send("Input.dispatchTouchEvent", {
      type: "touchStart",
      touchPoints: fingers(30).slice(0, 1),
    });
    await touch.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: fingers(30) });
    for (const apart of [45, 60, 75, 90]) {
      await touch.send("Input.dispatchTouchEvent", { type: "touchMove", touchPoints: fingers(apart) });
    }
    await touch.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
    expect(await page.locator(".pole-end").count()).toBe(0);
    await expect.poll(() => page.getByRole("button", { name: "Whole picture" }).isEnabled()).toBe(true);

    // Three times as large: a tap 60 px beside the middle means a place 20 px beside it on the whole picture.
    await page.getByRole("button", { name: "Snap to the pole's end" }).click();
    await page.touchscreen.tap(middle.x + 60, middle.y);
    await page.getByRole("button", { name: "Whole picture" }).click();
    const mark = page.locator(".pole-end").first();
    expect(Number(await mark.getAttribute("cx"))).toBeCloseTo(box.width / 2 + 20, 0);
    expect(Number(await mark.getAttribute("cy"))).toBeCloseTo(box.height / 2, 0);
  });
});

describe("an analysis that is stopped", () => {
  it("keeps the poles, can be started again, and lets the landings be marked by hand", async () => {
    const page = await openApp();
    await page.getByRole("button", { name: "Try the demo clip" }).click();
    await page.getByRole("button", { name: "Stop" }).click({ timeout: 60_000 });
    await page.getByText("Stopped. Your poles are kept").waitFor();
    await expect.poll(() => page.getByRole("button", { name: "Try again" }).isEnabled()).toBe(true);
    await page.getByRole("link", { name: "Mark by hand" }).click();
    await page.getByText("Mark the landings by hand:").waitFor();
    await page.getByRole("navigation").getByRole("link", { name: "Poles" }).click();
    await expect.poll(() => page.locator(".pole-list li").count()).toBe(truth.marks.poles.length);
  });
});

describe("an analysis whose worker breaks", () => {
  it("is begun again by itself, and goes on where it stopped", async () => {
    const page = await openApp();
    await page.getByRole("button", { name: "Try the demo clip" }).click();
    await page.getByText(/frame 1\d\d of/).waitFor({ timeout: 120_000 });
    const workers = page.workers();
    expect(workers.length).toBeGreaterThan(0);
    // A module of one function that does what a broken one does: "unreachable".
    const trap = [
      0, 97, 115, 109, 1, 0, 0, 0, 1, 4, 1, 96, 0, 0, 3, 2, 1, 0, 7, 5, 1, 1, 102, 0, 0, 10, 5, 1, 3, 0, 0,
      11,
    ];
    await workers.at(-1)?.evaluate(async (bytes) => {
      const { instance } = await WebAssembly.instantiate(new Uint8Array(bytes));
      setTimeout(instance.exports.f as () => void);
    }, trap);
    await page.locator("[data-taken-up]").waitFor({ timeout: 120_000 });
    await page.getByRole("heading", { name: "Verdict", exact: true }).waitFor({ timeout: 240_000 });
    await expect.poll(() => page.locator(".verdict").getAttribute("data-kind")).toBe(truth.verdict);
  });
});

describe("a clip that the browser cannot decode", () => {
  it("goes the whole path all the same: opened, marked, looked through, and marked by hand", async () => {
    const page = await openApp();
    const odd = fileURLToPath(new URL("../../fixtures/odd/phone-hevc.mov", import.meta.url));
    await page.getByLabel("Check a clip", { exact: true }).setInputFiles(odd);
    // Refused the first time it is asked for, the decoder can still be fetched the next.
    await page.getByRole("button", { name: "Not now" }).click();
    await page.getByText("this kind of video needs the extra decoder").waitFor();
    await page.getByLabel("Check a clip", { exact: true }).setInputFiles(odd);
    await page.getByRole("button", { name: "Fetch 32 MB" }).click();
    await page.getByRole("heading", { name: "Clip", exact: true }).waitFor({ timeout: 120_000 });
    await page.getByText("the slower reader (hevc)").waitFor();
    await page.getByText("90 frames").waitFor();

    await tapAnyRow(page);
    await page.getByRole("button", { name: "Find the landings" }).click();

    // The film shows a test card: nothing may be found on it, and the way on is by hand.
    await page.getByRole("heading", { name: "Landings", exact: true }).waitFor({ timeout: 240_000 });
    await page.getByText("No landing was found by itself").waitFor();
    expect(await stanceBars(page).count()).toBe(0);
    await page.getByRole("button", { name: "Add a left hind landing" }).click();
    await wholePicture(page);
    const at = await page.locator(".stage").boundingBox();
    if (!at) throw new Error("There is no picture on this screen.");
    await page.mouse.click(at.x + 150, at.y + 130);
    await expect.poll(() => stanceBars(page).count()).toBe(1);
  });
});

describe("the poles by keyboard", () => {
  it("marks, nudges by one and by ten pixels, and takes it back", async () => {
    const page = await openApp();
    await toPoles(page);
    await pictureShown(page);
    await page.getByRole("button", { name: "Snap to the pole's end" }).click();
    const stage = page.getByRole("application");
    await stage.focus();
    await page.keyboard.press("Enter");
    await page.keyboard.press("ArrowRight");
    await page.keyboard.press("Enter");
    const mark = page.locator(".pole-end").first();
    const x = async () => Number(await mark.getAttribute("cx"));
    const start = await x();
    await page.keyboard.press("ArrowRight");
    const scale = (await x()) - start;
    await page.keyboard.press("Shift+ArrowRight");
    expect((await x()) - start).toBeCloseTo(11 * scale, 4);
    // The run of nudges is one step back, the mark itself another.
    await page.keyboard.press("Control+z");
    await expect.poll(x).toBeCloseTo(start, 4);
    await page.keyboard.press("Control+z");
    expect(await mark.count()).toBe(0);
    await page.keyboard.press("Control+y");
    await expect.poll(() => mark.count()).toBe(1);
  });
});

describe("what goes wrong is said in a sentence", () => {
  it("when a file is no video, and nothing is begun", async () => {
    const page = await openApp();
    await page.getByLabel("Check a clip", { exact: true }).setInputFiles({
      name: "notes.mp4",
      mimeType: "video/mp4",
      buffer: Buffer.from("Otto was a good boy today.\n".repeat(40)),
    });
    const alert = page.getByRole("alert");
    await alert.waitFor();
    await expect.poll(() => alert.textContent()).toMatch(/notes\.mp4.*\./s);
    expect(new URL(page.url()).hash).toMatch(/^(#\/)?$/);
    await page.getByText("None yet. Your first clip starts one.").waitFor();

    await page.getByText("Write a problem report").click();
    const report = page.getByRole("textbox", { name: "Problem report" });
    await expect.poll(() => report.inputValue()).toMatch(/error: ClipError/);
    const text = await report.inputValue();
    expect(text).toContain("is not a video");
    expect(text).toMatch(/browser: Mozilla/);
    // A file's name may be a client's, and no picture is in it.
    expect(text).not.toMatch(/notes\.mp4|data:|blob:/);
    const [saved] = await Promise.all([
      page.waitForEvent("download"),
      page.getByRole("button", { name: "Save" }).click(),
    ]);
    expect(readFileSync((await saved.path()) ?? "", "utf8")).toBe(text);
    await expectNoBarrier(page);
  });

  it("when a clip holds a single picture, and the way on by hand is open", async () => {
    const page = await openApp();
    const odd = fileURLToPath(new URL("../../fixtures/odd/single.mp4", import.meta.url));
    await page.getByLabel("Check a clip", { exact: true }).setInputFiles(odd);
    await tapAnyRow(page);
    await page.getByRole("button", { name: "Find the landings" }).click();
    await page.getByText("only one picture").waitFor({ timeout: 60_000 });
    await page.getByText("Your poles and everything else are kept").waitFor();
    await page.getByRole("link", { name: "Mark by hand" }).click();
    await page.getByRole("heading", { name: "Landings", exact: true }).waitFor();
  });

  it("when no pole is marked", async () => {
    const page = await openApp();
    await toPoles(page);
    await expect.poll(() => page.getByRole("button", { name: "Find the landings" }).isDisabled()).toBe(true);
    await page.goto(page.url().replace("/poles", "/run"));
    await page.getByText("The poles of this clip are not marked yet").waitFor();
  });

  it("when the spacing is 0 or 4 m, or missing", async () => {
    const page = await openApp();
    await toPoles(page);
    await tapPoles(page, truth.marks.poles.slice(0, 3), false);
    await page.getByText("Type the spacing of the poles").waitFor();
    const go = page.getByRole("button", { name: "Find the landings" });
    const spacing = page.getByLabel("Spacing, pole to pole");
    for (const [typed, said] of [
      ["0", "0 cm"],
      ["400", "4.00 m"],
    ] as const) {
      await spacing.fill(typed);
      const alert = page.getByRole("alert");
      await alert.waitFor();
      await expect.poll(() => alert.textContent()).toContain(said);
      await expect.poll(() => alert.textContent()).toContain("between 10 cm and 3 m");
      await expect.poll(() => go.isDisabled()).toBe(true);
    }
    await spacing.fill("abc");
    await page.getByText("Type a plain number").waitFor();
    await spacing.fill("50");
    await expect.poll(() => go.isEnabled()).toBe(true);
  });

  it("when the poles are tapped out of order", async () => {
    const page = await openApp();
    await toPoles(page);
    const [a, b, c, d, e] = truth.marks.poles;
    if (!a || !b || !c || !d || !e) throw new Error("The demo clip has five poles or more.");
    await tapPoles(page, [a, d, b, c, e], false);
    await page.getByLabel("Spacing, pole to pole").fill("50");
    const alert = page.getByRole("alert");
    await alert.waitFor();
    await expect.poll(() => alert.textContent()).toContain("not in the order of the row");
    await expect.poll(() => alert.textContent()).toContain("pole 2");
    await expect.poll(() => page.getByRole("button", { name: "Find the landings" }).isDisabled()).toBe(true);
  });

  it("when a clip is asked for that is not on this device", async () => {
    const page = await openApp();
    await page.goto(`${site.url}#/clip/0123456789abcdef/verdict`);
    await expect.poll(() => page.getByRole("alert").textContent()).toContain("not on this device");
  });
});

describe.each([
  ["by day", false],
  ["by night", true],
])("%s", (_, night) => {
  it("can be read and worked by everyone: first screen, clip, poles, landings by hand", async () => {
    const page = await openApp({ night });
    await page.getByText("Before you lay poles").click();
    await expectNoBarrier(page);
    await takeClip(page);
    await expectNoBarrier(page);
    await page.getByRole("button", { name: "Mark the poles" }).click();
    await page.getByRole("heading", { name: "Poles", exact: true, level: 1 }).waitFor();
    await markRow(page);
    await expectNoBarrier(page);
    await page.getByRole("navigation").getByRole("link", { name: "Landings" }).click();
    await page.getByRole("button", { name: "Add a left hind landing" }).click();
    await pictureShown(page);
    const box = await page.locator(".stage").boundingBox();
    if (!box) throw new Error("There is no picture on this screen.");
    await page.mouse.click(box.x + box.width / 2, box.y + box.height * 0.8);
    await stanceBars(page).first().waitFor();
    await page.getByRole("button", { name: "Done" }).click();
    await stanceBars(page).first().click();
    await page.getByRole("region", { name: "The chosen landing" }).waitFor();
    await expectNoBarrier(page);
  });
});

it("shows its first screen with less than 250 kB of code", async () => {
  context = await browser.newContext({ viewport: phone });
  const page = await context.newPage();
  const sizes: Promise<number>[] = [];
  page.on("response", (response) => {
    if (/\.(js|css|html)$|\/$/.test(new URL(response.url()).pathname)) {
      sizes.push(response.body().then((body) => gzipSync(body).length));
    }
  });
  await page.goto(site.url);
  await page.getByText("None yet. Your first clip starts one.").waitFor();
  await page.waitForLoadState("networkidle");
  const total = (await Promise.all(sizes)).reduce((sum, size) => sum + size, 0);
  expect(total).toBeGreaterThan(20_000);
  expect(total).toBeLessThan(250_000);
});
