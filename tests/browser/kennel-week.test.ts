import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { unzipSync } from "fflate";
import type { Browser, BrowserContext, Page } from "playwright-core";
import { afterAll, beforeAll, expect, it } from "vitest";
import { resultSchema } from "../../src/report/result.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";
import { rectanglesOf } from "./pdf-rectangles.ts";

// One dog's week in a kennel of five, as its practitioner goes through it: on a phone until the backup, on a desk
// after it. Set PAWGAP_SHOTS to a folder to get a picture of every screen.

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core"), "utf8");
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

interface Device {
  name: string;
  context: BrowserContext;
  page: Page;
  errors: string[];
}

async function device(name: string, width: number, height: number): Promise<Device> {
  const context = await browser.newContext({
    viewport: { width, height },
    locale: "en-GB",
    timezoneId: "Europe/London",
    acceptDownloads: true,
  });
  const page = await context.newPage();
  page.setDefaultTimeout(120_000);
  const errors: string[] = [];
  page.on("pageerror", (error) => errors.push(error.message));
  page.on("console", (message) => {
    if (message.type() === "error") errors.push(message.text());
  });
  return { name, context, page, errors };
}

/** Takes a picture, and checks that everyone can use the screen and that nothing sticks out sideways. */
async function look({ name, page, errors }: Device, screen: string): Promise<void> {
  if (shots) await page.screenshot({ path: join(shots, `${name}-${screen}.png`), fullPage: true });
  await page.evaluate(axeSource);
  const found = await page.evaluate(`axe.run(document).then(({ violations }) => violations
    .filter(({ impact }) => impact === "serious" || impact === "critical")
    .map(({ id, nodes }) => id + ": " + nodes.map((node) => node.html.slice(0, 160)).join(" | ")))`);
  expect([screen, found]).toEqual([screen, []]);
  const tooWide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  expect([screen, Math.max(0, tooWide)]).toEqual([screen, 0]);
  expect([screen, ...errors]).toEqual([screen]);
}

async function goTo(page: Page, path: string, heading: string | RegExp): Promise<void> {
  await page.goto(`${site.url}#${path}`);
  await page.getByRole("heading", { name: heading, level: 1 }).waitFor();
}

const heading = (page: Page, name: string) => page.getByRole("heading", { name, level: 1, exact: true });

async function downloaded(page: Page, press: () => Promise<void>): Promise<{ name: string; bytes: Buffer }> {
  const waiting = page.waitForEvent("download");
  await press();
  const download = await waiting;
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

const taken = (page: Page, button: RegExp) =>
  downloaded(page, () => page.getByRole("button", { name: button }).click());

it("a dog's week in a kennel of five, and the same on another device", { timeout: 400_000 }, async () => {
  const phone = await device("phone", 390, 844);
  const { page } = phone;

  // Monday: the kennel, the practice's name, and a fifth dog with its measures and a caution.
  await page.goto(`${site.url}#/dogs`);
  await heading(page, "Dogs").waitFor();
  await page.getByRole("button", { name: "Look around with example dogs" }).click();
  await page.getByRole("link", { name: /Juniper/ }).waitFor();
  await goTo(page, "/settings", "Settings");
  await page.getByLabel("Your name").fill("A. Lindqvist");
  await page.getByLabel("Practice").fill("Millbrook Dog Gym");
  await page.getByLabel("Your name").focus();
  await page.getByLabel("Add a logo").setInputFiles({
    name: "logo.png",
    mimeType: "image/png",
    buffer: await page.getByRole("heading", { level: 1 }).screenshot(),
  });
  await page.getByAltText("Your logo").waitFor();
  await look(phone, "01-settings");

  await goTo(page, "/dogs", "Dogs");
  await page.getByRole("link", { name: "Add a dog" }).click();
  await page.getByLabel("Name").fill("Hazel");
  for (const [measure, cm] of [
    ["withers", "50"],
    ["point of shoulder", "41"],
    ["elbow", "27"],
    ["carpus", "11"],
    ["hock", "14"],
  ]) {
    await page.getByLabel(new RegExp(`Floor to ${measure}`)).fill(cm!);
  }
  await page.getByLabel(/Nose to tail base/).fill("78");
  await page.getByRole("radio", { name: "Trot" }).check();
  await page.getByLabel("Aim").selectOption("Longer reach");
  await page.getByLabel(/^Surgery or injury/).check();
  await look(phone, "02-new-dog");
  await page.getByRole("button", { name: "Done" }).click();
  await heading(page, "Hazel").waitFor();
  await page.getByText(/No row is planned until a veterinarian has cleared Hazel/).waitFor();
  await look(phone, "03-dog-not-cleared");

  await page.getByRole("link", { name: "Plan it" }).click();
  await heading(page, "Layout").waitFor();
  await page.getByLabel(/A veterinarian has examined Hazel/).check();
  await page.getByLabel("Who").fill("Dr. B. Example");
  await look(phone, "04-gate");
  await page.getByRole("button", { name: "Go on" }).click();
  await page.getByText("Trot: floor to withers, 50 cm, or a little less.").waitFor();
  await page.getByRole("button", { name: "Plan this row" }).click();
  await page.getByRole("img", { name: /The row to scale/ }).waitFor();
  await page.getByText("Lay it with one tape").click();
  await look(phone, "05-layout");

  // Tuesday: a clip.
  await page.getByRole("link", { name: "Check a clip" }).click();
  await page.getByText("The next clip is for Hazel.").waitFor();
  await look(phone, "06-check");
  await page.getByRole("button", { name: "Try the demo clip" }).click();
  await heading(page, "Verdict").waitFor({ timeout: 300_000 });
  await page.locator('.verdict[data-kind="fits"]').waitFor();
  await look(phone, "07-verdict");
  const clipPath = new URL(page.url()).hash.slice(1).replace(/verdict$/, "");

  await page.getByRole("link", { name: "Notes on this session" }).click();
  await heading(page, "Hazel").waitFor();
  await page.getByRole("combobox", { name: "Ground" }).selectOption("Rubber");
  await page.getByRole("combobox", { name: "Handler" }).selectOption("On its left");
  await page.getByRole("combobox", { name: "How the dog was" }).selectOption("Tired");
  await page.getByLabel("Knocks, counted by eye").fill("0");
  await page.getByLabel("Notes").fill("Hot by noon; stopped after one pass.");
  await page.waitForTimeout(400);
  await look(phone, "08-session");
  const sessionPath = new URL(page.url()).hash.slice(1);

  // Wednesday: the next row, which a tired dog holds where it is.
  await page.getByRole("link", { name: "Next row" }).click();
  await page.getByText("It was tired: same row, until it goes through it fresh.").waitFor();
  await goTo(page, sessionPath, "Hazel");
  await page.getByRole("combobox", { name: "How the dog was" }).selectOption("Fresh");
  await page.waitForTimeout(400);
  await page.getByRole("link", { name: "Next row" }).click();
  await page.getByText(/It fits: on to \d+ cm, 10\d % of its own step/).waitFor();
  await page.getByRole("button", { name: "Take this row" }).click();
  await page.getByText("This is the row planned below").waitFor();
  await page.getByRole("heading", { name: "The way to the aim" }).waitFor();
  await look(phone, "09-next-layout");

  // Thursday: nothing filmed, written down all the same; and the cord for all five.
  await goTo(page, "/dogs", "Dogs");
  await page.getByRole("link", { name: /Hazel/ }).click();
  await page.getByRole("link", { name: "All 1" }).click();
  await page.getByRole("button", { name: "Without a clip" }).click();
  await page.getByLabel("Notes").fill("Two passes on the new row, no knocks.");
  await page.waitForTimeout(400);
  await goTo(page, "/cord", "Cord");
  await page.getByText("HA · Hazel").waitFor();
  await look(phone, "10-cord");
  const paper = await page.pdf({ preferCSSPageSize: true, format: "A4" });
  const mm = 72 / 25.4;
  const bars = rectanglesOf(paper).filter(({ width }) => Math.abs(width / mm - 100) < 0.05);
  expect(bars.length).toBeGreaterThan(0);
  for (const bar of bars) expect(bar.height / mm).toBeCloseTo(3.5, 1);

  // Friday: how it went, and the report for the owner.
  await goTo(page, "/dogs/example-ju/progress", "Progress");
  await page.getByRole("region", { name: "Step", exact: true }).waitFor();
  await look(phone, "11-progress");
  await goTo(page, `${clipPath}report`, "Report");
  const sheet = page.frameLocator(".report-sheet");
  await sheet.getByText("Hazel: do the poles fit its stride?").waitFor();
  await sheet.getByText("Millbrook Dog Gym").waitFor();
  await sheet.getByText(/the surgeon's plan comes first/).waitFor();
  await look(phone, "12-report");
  const numbers = await taken(page, /All numbers/);
  const result = resultSchema.parse(JSON.parse(numbers.bytes.toString()));
  expect(result.verdict.kind).toBe("fits");
  expect(numbers.name).toMatch(/^hazel-\d{4}-\d\d-\d\d-result\.json$/);

  // Saturday: everything into one file.
  await goTo(page, "/settings", "Settings");
  await page.getByLabel("With the films").check();
  const backup = await taken(page, /Back up now/);
  expect(Object.keys(unzipSync(backup.bytes)).filter((name) => name.startsWith("films/"))).toHaveLength(1);
  await phone.context.close();

  // Sunday: the desk at home, which has never seen any of it.
  const desk = await device("desk", 1440, 900);
  await goTo(desk.page, "/settings", "Settings");
  await desk.page
    .getByLabel("Restore a backup")
    .setInputFiles({ name: backup.name, mimeType: "application/zip", buffer: backup.bytes });
  await desk.page.getByRole("button", { name: "Restore", exact: true }).click();
  await desk.page.getByText(/5 dogs added, 12 sessions added.*1 film brought back/).waitFor();
  await look(desk, "13-settings");
  for (const [screen, path, title] of [
    ["14-home", "/", "Pawgap"],
    ["15-dogs", "/dogs", "Dogs"],
    ["16-session", sessionPath, "Hazel"],
    ["17-cord", "/cord", "Cord"],
    ["18-progress", "/dogs/example-bi/progress", "Progress"],
  ] as const) {
    await goTo(desk.page, path, title);
    await desk.page.waitForTimeout(300);
    await look(desk, screen);
  }
  await goTo(desk.page, sessionPath, "Hazel");
  await expect
    .poll(() => desk.page.getByLabel("Notes").inputValue())
    .toBe("Hot by noon; stopped after one pass.");
  await goTo(desk.page, `${clipPath}verdict`, "Verdict");
  await desk.page.locator('.verdict[data-kind="fits"]').waitFor();
  await look(desk, "19-verdict");
  await desk.page.getByRole("link", { name: "Next layout" }).click();
  await desk.page.getByText("This is the row planned below").waitFor();
  await look(desk, "20-layout");
  // The film came along: its landings can be looked at frame by frame.
  await goTo(desk.page, `${clipPath}landings`, "Landings");
  await desk.page.getByRole("slider", { name: "Frame" }).waitFor();
  await look(desk, "21-landings");
  await desk.context.close();
});
