import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import type { Browser, BrowserContext, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { naturalSchema } from "../../src/report/natural-result.ts";
import { openBrowser, type Site, startSite } from "./harness.ts";

// A practitioner's weeks in real Chromium. Set PAWGAP_SHOTS to a folder to get pictures of every screen.

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core"), "utf8");
const shots = process.env.PAWGAP_SHOTS;
if (shots) mkdirSync(shots, { recursive: true });

const sizes = [
  { name: "phone", width: 390, height: 844 },
  { name: "desk", width: 1440, height: 900 },
];

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

/** A device of its own: nothing kept on it yet. Errors on the page fail the test that is running. */
async function newDevice(
  size = sizes[0]!,
): Promise<{ context: BrowserContext; page: Page; errors: string[] }> {
  const context = await browser.newContext({
    viewport: { width: size.width, height: size.height },
    locale: "en-GB",
    timezoneId: "Europe/London",
  });
  const page = await context.newPage();
  page.setDefaultTimeout(30_000);
  const errors: string[] = [];
  page.on("pageerror", (error) => errors.push(error.message));
  page.on("console", (message) => {
    if (message.type() === "error") errors.push(message.text());
  });
  await page.goto(`${site.url}#/dogs`);
  await page.getByRole("heading", { name: "Dogs", level: 1 }).waitFor();
  return { context, page, errors };
}

async function goTo(page: Page, path: string, heading: string | RegExp): Promise<void> {
  await page.goto(`${site.url}#${path}`);
  await page.getByRole("heading", { name: heading, level: 1 }).waitFor();
  // What is kept is read after the frame of the screen is there.
  await page.waitForTimeout(300);
}

async function addExamples(page: Page): Promise<void> {
  await page.getByRole("button", { name: "Look around with example dogs" }).click();
  await page.getByRole("link", { name: /Juniper/ }).waitFor();
}

/** Serious and critical findings, one line each. */
async function findings(page: Page): Promise<string[]> {
  await page.evaluate(axeSource);
  return (await page.evaluate(`axe.run(document, { resultTypes: ["violations"] }).then(({ violations }) =>
    violations.filter(({ impact }) => impact === "serious" || impact === "critical")
      .map(({ id, nodes }) => id + ": " + nodes.map((node) => node.html.slice(0, 160)).join(" | ")))`)) as string[];
}

const screens: [name: string, path: string, heading: string | RegExp][] = [
  ["dogs", "/dogs", "Dogs"],
  ["dog", "/dogs/example-ju", "Juniper"],
  ["dog-new", "/dogs/new", "A new dog"],
  ["dog-edit", "/dogs/example-bi/edit", "About Biscuit"],
  ["layout", "/dogs/example-ju/layout", "Layout"],
  ["layout-gate", "/dogs/example-wr/layout", "Layout"],
  ["progress", "/dogs/example-ju/progress", "Progress"],
  ["cord", "/cord", "Cord"],
  ["sessions", "/sessions", "Sessions"],
  ["session", "/sessions/example-ju-6", "Juniper"],
  ["report", "/sessions/example-ju-6/report", "Report"],
  ["settings", "/settings", "Settings"],
];

describe.each(sizes)("on a $name", (size) => {
  it("every screen stands, fits its width, and has no serious accessibility finding", async () => {
    const { context, page, errors } = await newDevice(size);
    expect(await findings(page)).toEqual([]);
    await addExamples(page);
    for (const [name, path, heading] of screens) {
      await goTo(page, path, heading);
      if (shots) await page.screenshot({ path: join(shots, `${size.name}-${name}.png`), fullPage: true });
      await page.locator("details").evaluateAll((folds) => {
        for (const fold of folds) fold.setAttribute("open", "");
      });
      expect([name, ...(await findings(page))]).toEqual([name]);
      const tooWide = await page.evaluate(
        () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
      );
      expect([name, tooWide]).toEqual([name, 0]);
      expect([name, ...errors]).toEqual([name]);
    }
    await context.close();
  });

  it("a dog is measured, planned, changed and taken out again", async () => {
    const { context, page, errors } = await newDevice(size);
    await page.getByRole("link", { name: "Add a dog" }).click();
    await page.getByLabel("Name").fill("Hazel");
    await expectValue(page, "Letters on the cord", "HA");
    await page.getByLabel(/Floor to withers/).fill("48");
    await page.getByLabel(/Floor to point of shoulder/).fill("50");
    await page.getByText(/The point of the shoulder lies below the withers/).waitFor();
    await page.getByLabel(/Floor to point of shoulder/).fill("40,5");
    await page.getByText(/The point of the shoulder lies below the withers/).waitFor({ state: "detached" });
    await page.getByRole("radio", { name: "Trot" }).check();
    await page.getByRole("button", { name: "Done" }).click();
    await page.getByRole("heading", { name: "Hazel", level: 1 }).waitFor();
    await page.getByText("40 cm").or(page.getByText("41 cm")).first().waitFor();

    await page.getByRole("link", { name: "Plan it" }).click();
    await page.getByText("Trot: floor to withers, 48 cm, or a little less.").waitFor();
    await page.getByRole("button", { name: "Plan this row" }).click();
    const drawing = page.getByRole("img", { name: /The row to scale/ });
    await expectDescription(drawing, "0, 48, 96, 144, 192, 240.");
    await page.getByRole("button", { name: "One pole fewer" }).click();
    await expectDescription(drawing, "0, 48, 96, 144, 192.");
    await page.getByRole("button", { name: "Undo" }).click();
    await expectDescription(drawing, "0, 48, 96, 144, 192, 240.");
    await page.getByRole("button", { name: "Redo" }).click();
    await expectDescription(drawing, "0, 48, 96, 144, 192.");
    await page.getByRole("radio", { name: "Widening" }).check();
    await expectDescription(drawing, "0, 48, 98, 150, 204.");
    // 400 cm less three steps of 48 cm at both ends leave 112 cm: room for gaps of 48 and 50 cm.
    await page.getByLabel("Length of ground you have").fill("400");
    await page.getByRole("button", { name: "Take the 3 poles that fit" }).click();
    await expectDescription(drawing, "0, 48, 98.");
    await page.reload();
    await expectDescription(page.getByRole("img", { name: /The row to scale/ }), "0, 48, 98.");

    await goTo(page, "/settings", "Settings");
    await page.getByRole("radio", { name: "Inches" }).check();
    await goTo(page, "/dogs", "Dogs");
    await page.getByRole("link", { name: /Hazel/ }).click();
    await page.getByText("18.9 in").first().waitFor();
    await page.getByRole("button", { name: "Remove Hazel" }).click();
    await page.getByRole("button", { name: "Remove the dog" }).click();
    await page.getByRole("heading", { name: "No dogs yet" }).waitFor();
    expect(errors).toEqual([]);
    await context.close();
  });
});

async function expectValue(page: Page, label: string, value: string): Promise<void> {
  await expect.poll(() => page.getByLabel(label).inputValue()).toBe(value);
}

async function expectDescription(drawing: ReturnType<Page["getByRole"]>, text: string): Promise<void> {
  await expect.poll(() => drawing.locator("desc").textContent(), { timeout: 10_000 }).toContain(text);
}

describe("a kennel", () => {
  it("of four with a fifth: letters that clash are pointed at, on the form, in the list and on the cord", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/dogs/new", "A new dog");
    await page.getByLabel("Name").fill("Judy");
    await expectValue(page, "Letters on the cord", "JD");
    await page.getByLabel("Letters on the cord").fill("ju");
    await page.getByText("Juniper already carries JU. Give this dog other letters.").waitFor();
    await page.getByLabel(/Floor to point of shoulder/).fill("49");
    await page.getByRole("button", { name: "Done" }).click();
    await page.getByRole("heading", { name: "Judy", level: 1 }).waitFor();
    await goTo(page, "/dogs", "Dogs");
    await page.getByText(/Judy and Juniper carry the same letters, JU/).waitFor();
    await page.getByRole("link", { name: /Judy/ }).click();
    await page.getByRole("link", { name: "Plan it" }).click();
    await page.getByRole("button", { name: "Plan this row" }).click();
    await goTo(page, "/cord", "Cord");
    await page.getByText(/Judy and Juniper carry the same letters, JU/).waitFor();
    await page.getByText(/JU and JU lie only 1.0 cm apart on the cord/).waitFor();
    await context.close();
  });

  it("of examples goes in one tap, and what was made by hand stays", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/dogs/new", "A new dog");
    await page.getByLabel("Name").fill("Hazel");
    await page.getByRole("button", { name: "Done" }).click();
    await page.getByRole("heading", { name: "Hazel", level: 1 }).waitFor();
    await goTo(page, "/dogs", "Dogs");
    await page.getByRole("button", { name: "Remove the examples" }).click();
    await page.getByRole("link", { name: /Juniper/ }).waitFor({ state: "detached" });
    await expect.poll(() => page.getByRole("link", { name: /Hazel/ }).count()).toBe(1);
    await goTo(page, "/sessions", "Sessions");
    await expect.poll(() => page.getByText("None yet.").count()).toBe(1);
    await context.close();
  });

  it("shows a dog's photo, and refuses in a sentence what is no picture", async () => {
    const { context, page } = await newDevice();
    await goTo(page, "/dogs/new", "A new dog");
    await page.getByLabel("Name").fill("Hazel");
    const photo = page.getByLabel("Photo");
    await photo.setInputFiles({
      name: "notes.txt",
      mimeType: "text/plain",
      buffer: Buffer.from("no picture"),
    });
    await page
      .getByRole("alert")
      .getByText(/not a picture that this browser can show/)
      .waitFor();
    const picture = await page.screenshot();
    await photo.setInputFiles({ name: "hazel.png", mimeType: "image/png", buffer: picture });
    await page.getByLabel("Other photo").waitFor();
    await page.getByRole("button", { name: "Done" }).click();
    await page.getByRole("heading", { name: "Hazel", level: 1 }).waitFor();
    await goTo(page, "/dogs", "Dogs");
    const face = page.locator("img.kennel-face");
    expect(await face.evaluate((img: HTMLImageElement) => [img.naturalWidth, img.naturalHeight])).toEqual([
      320, 320,
    ]);
    await context.close();
  });

  it("works, and says that nothing lasts, where the browser keeps nothing", async () => {
    const context = await browser.newContext();
    await context.addInitScript(() => {
      IDBFactory.prototype.open = () => {
        throw new DOMException("The operation is insecure.", "SecurityError");
      };
    });
    const page = await context.newPage();
    await page.goto(`${site.url}#/dogs`);
    await addExamples(page);
    await page.getByRole("link", { name: /Juniper/ }).click();
    await page.getByRole("heading", { name: "Juniper", level: 1 }).waitFor();
    await page.evaluate(() => {
      location.hash = "#/settings";
    });
    await page.getByText(/keeps nothing after the page is closed/).waitFor();
    await context.close();
  });

  it("plans no row for a dog with a caution before a veterinarian, by name, has cleared it", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/dogs/example-wr/layout", "Layout");
    await page.getByRole("heading", { name: "First the veterinarian" }).waitFor();
    expect(await page.getByRole("button", { name: "Plan this row" }).count()).toBe(0);
    const goOn = page.getByRole("button", { name: "Go on" });
    await expect.poll(() => goOn.isDisabled()).toBe(true);
    await page.getByLabel(/A veterinarian has examined Wren/).check();
    await expect.poll(() => goOn.isDisabled()).toBe(true);
    await page.getByLabel("Who").fill("Dr. B. Example");
    await goOn.click();
    await page.getByText("Walk: floor to point of shoulder, 31 cm.").waitFor();
    await page.getByRole("button", { name: "Plan this row" }).click();
    await goTo(page, "/dogs/example-wr", "Wren");
    await page.getByText(/Dr. B. Example/).waitFor();
    await goTo(page, "/cord", "Cord");
    await page.getByText("WR · Wren").waitFor();
    // A caution noted later holds the row back again, everywhere.
    await goTo(page, "/dogs/example-wr/edit", "About Wren");
    await page.getByLabel(/A veterinarian has examined Wren/).uncheck();
    await page.getByRole("button", { name: "Done" }).click();
    await page.getByText("It waits until a veterinarian has cleared the dog.").waitFor();
    await goTo(page, "/cord", "Cord");
    await page.getByText("Wren is not on the cord until a veterinarian has cleared it").waitFor();
    expect(await page.getByText("WR · Wren").count()).toBe(0);
    await context.close();
  });
});

describe("after a session", () => {
  it("the next row is one tap away, and says what changed", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/dogs/example-ot/layout", "Layout");
    await page.getByText(/Poles are about 3 cm too far apart/).waitFor();
    await page.getByRole("button", { name: "Take this row" }).click();
    await page.getByText("This is the row planned below").waitFor();
    await goTo(page, "/dogs/example-ot", "Otto");
    await page.getByText(/From 30 cm to 27 cm: poles were too far apart/).waitFor();
    await expectDescription(page.getByRole("img", { name: /The row to scale/ }), "0, 27, 54, 81, 108.");
    await context.close();
  });

  it("the next row follows from the verdict one comes from, also of an earlier session", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/clip/example-ju-1-clip1/verdict", "Verdict");
    await page.getByRole("link", { name: "Next layout" }).click();
    await page.getByText(/From 50 cm to 47 cm: poles were too far apart/).waitFor();
    await context.close();
  });

  it("a pass that is set aside no longer counts, with its reason, and can be taken back", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/sessions/example-ju-6", "Juniper");
    await page.getByText("30 hind landings in 6 passes").waitFor();
    await page.getByLabel("Set pass 1 aside because").first().selectOption("Looked away");
    await page.getByText("By you: Looked away").waitFor();
    await page.getByText("25 hind landings in 5 passes").waitFor();
    await page.reload();
    await page.getByText("25 hind landings in 5 passes").waitFor();
    await page.getByRole("button", { name: "Let pass 1 count again" }).click();
    await page.getByText("30 hind landings in 6 passes").waitFor();
    await context.close();
  });

  it("a pass that the program sets aside can be kept in, and everyone is told", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    // A canter is no pass at a walk or a trot: six passes of a trotting dog, asked for as a walk.
    await goTo(page, "/sessions/example-ju-6", "Juniper");
    await page.getByRole("radio", { name: "Walk" }).first().check();
    await page
      .getByText(/The dog trotted in this pass/)
      .first()
      .waitFor();
    await page.getByLabel("Count pass 1 all the same because").first().selectOption("Looked steady to me");
    await page.getByText("kept in by you").waitFor();
    await page.getByText(/Looked steady to me. The program would set it aside: The dog trotted/).waitFor();
    await page.getByText(/Pass 1 was kept in by hand \(Looked steady to me\)/).waitFor();
    await page.reload();
    await page.getByText("kept in by you").waitFor();
    await goTo(page, "/sessions/example-ju-6/report", "Report");
    await page
      .frameLocator(".report-sheet")
      .getByText(/Pass 1 was kept in by hand/)
      .waitFor();
    await goTo(page, "/sessions/example-ju-6", "Juniper");
    await page.getByRole("button", { name: "Set pass 1 aside after all" }).click();
    await page.getByText("kept in by you").waitFor({ state: "detached" });
    await context.close();
  });

  it("what was written down is there after a reload, and stays when the dog is removed", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/dogs/example-ju/sessions", "Sessions");
    await page.getByRole("button", { name: "Without a clip" }).click();
    await page.getByLabel("Notes").fill("Two passes only, hot day.");
    await page.getByRole("combobox", { name: "How the dog was" }).selectOption("Tired");
    await page.getByRole("combobox", { name: "Ground" }).selectOption("Grass");
    await page.getByLabel("Knocks, counted by eye").fill("3");
    await page.waitForTimeout(300);
    const address = page.url();
    await page.reload();
    await expectValue(page, "Notes", "Two passes only, hot day.");
    await expectValue(page, "Knocks, counted by eye", "3");
    await goTo(page, "/dogs/example-ju", "Juniper");
    await page.getByRole("button", { name: "Remove Juniper" }).click();
    await page.getByRole("button", { name: "Remove the dog, keep its sessions" }).click();
    await page.getByRole("heading", { name: "Dogs", level: 1 }).waitFor();
    await page.goto(address);
    await page.getByRole("heading", { name: "Juniper", level: 1 }).waitFor();
    await expectValue(page, "Notes", "Two passes only, hot day.");
    await context.close();
  });

  it("over bare ground there is no verdict but a natural step, compared with the last row", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/sessions/example-ju-2", "Juniper");
    await page.getByText("It was laid differently").click();
    await page.getByRole("button", { name: "Bare ground between marks, no poles" }).click();
    await page.getByRole("heading", { name: "Natural step" }).waitFor();
    await page.getByText(/from \d+ hind steps in 6 passes over bare ground/).waitFor();
    await page.getByText(/Over poles on .* its step was .* longer than its own/).waitFor();
    expect(await page.getByText("The spacing fits").count()).toBe(0);
    await goTo(page, "/dogs/example-ju/sessions", "Sessions");
    await page.getByText("natural step").waitFor();

    // The same on the clip's own path, and nothing there judges marks as if they were poles.
    await goTo(page, "/clip/example-ju-2-clip1/verdict", "Verdict");
    await page.getByRole("heading", { name: "Natural step" }).waitFor();
    const own = await page.locator(".act-on strong").textContent();
    expect(own).toMatch(/^4\d\.\d cm$/);
    expect(await page.getByText(/Keep them at|Lay them at|spacing fits/).count()).toBe(0);
    expect(await findings(page)).toEqual([]);
    await page.getByRole("link", { name: "Report", exact: true }).last().click();
    const sheet = page.frameLocator(".report-sheet");
    await sheet.getByText("Juniper: how long is its own step?").waitFor();
    const downloading = page.waitForEvent("download");
    await page.getByRole("button", { name: /All numbers/ }).click();
    const file = await (await downloading).path();
    const numbers = naturalSchema.parse(JSON.parse(readFileSync(file, "utf8")));
    expect(`${(100 * numbers.stepM!.value).toFixed(1)} cm`).toBe(own);

    // And the next row begins from it.
    await goTo(page, "/dogs/example-ju/layout", "Layout");
    await page.getByText(`from its step over bare ground of ${own}`).waitFor();
    await page.getByText("Begin again from the dog's own step").click();
    await page.getByText(`Its own step at a trot, measured over bare ground: ${own}`).waitFor();

    // A row is held against it, and it has its own line over the weeks.
    await goTo(page, "/clip/example-ju-6-clip1/verdict", "Verdict");
    await page
      .getByText(new RegExp(`Over bare ground on .* its own step was ${own}: over these poles it`))
      .waitFor();
    await goTo(page, "/dogs/example-ju/progress", "Progress");
    await page.getByRole("region", { name: "Own step over bare ground" }).waitFor();
    await context.close();
  });

  it("progress names a change only where it is more than chance", async () => {
    const { context, page } = await newDevice();
    await addExamples(page);
    await goTo(page, "/dogs/example-ju/progress", "Progress");
    const step = page.getByRole("region", { name: "Step", exact: true });
    await step.getByText(/From first to last it changed by \+\d\.\d cm/).waitFor();
    const sides = page.getByRole("region", { name: "Right against left step" });
    await sides.getByText(/No change that means anything/).waitFor();
    await page.getByText(/It also went .* m\/s faster/).waitFor();
    expect(await page.locator("main").textContent()).not.toMatch(/better|worse|improve/i);
    await page.getByRole("combobox", { name: "The other" }).selectOption({ index: 0 });
    await page.getByText("Choose two different sessions.").waitFor();
    await context.close();
  });
});

describe("the cord on paper", () => {
  it("is true to scale: the bar measures 10 cm and each mark lies at its distance", async () => {
    const { context, page } = await newDevice(sizes[1]);
    await addExamples(page);
    await goTo(page, "/cord", "Cord");
    await page.emulateMedia({ media: "print" });
    const cm = 96 / 2.54;
    const bar = await page.locator("[data-check]").boundingBox();
    expect(bar!.width / cm).toBeCloseTo(10, 2);
    const pieces = await page.locator(".cord-strips svg").all();
    expect(pieces).toHaveLength(3);
    const second = await pieces[1]!.boundingBox();
    const otto = await pieces[1]!.locator('[data-mark="OT"] line').boundingBox();
    // Otto's 30 cm: 10 cm into the second piece of 20 cm, under its lap of 1.2 cm.
    expect((otto!.y + otto!.height / 2 - second!.y) / cm).toBeCloseTo(11.2, 1);
    expect(await page.getByRole("button", { name: "Print" }).isVisible()).toBe(false);
    const pdf = await page.pdf({ preferCSSPageSize: true, format: "A4" });
    const pages = pdf.toString("latin1").match(/\/Type\s*\/Page\b/g);
    expect(pages!.length).toBeLessThanOrEqual(2);
    await context.close();
  });
});

describe("a backup", () => {
  it("goes out as one file and comes back on another device; a damaged one is refused and loses nothing", async () => {
    const one = await newDevice();
    await addExamples(one.page);
    await goTo(one.page, "/settings", "Settings");
    await one.page.getByLabel("Your name").fill("R. Hale");
    await one.page.getByLabel("Practice").focus();
    const downloading = one.page.waitForEvent("download");
    await one.page.getByRole("button", { name: "Back up now" }).click();
    const download = await downloading;
    expect(download.suggestedFilename()).toMatch(/^pawgap-backup-\d{4}-\d\d-\d\d\.zip$/);
    const file = readFileSync(await download.path());
    await one.context.close();

    const two = await newDevice();
    await goTo(two.page, "/settings", "Settings");
    const restore = (buffer: Buffer, name: string) =>
      two.page.getByLabel("Restore a backup").setInputFiles({ name, mimeType: "application/zip", buffer });
    await restore(file.subarray(0, file.length - 2000), "cut.zip");
    await two.page.getByRole("button", { name: "Restore", exact: true }).click();
    await two.page
      .getByRole("alert")
      .getByText(/damaged.*nothing has been changed here/)
      .waitFor();
    await two.page.getByRole("button", { name: "Not now" }).click();
    await restore(Buffer.from("shopping list"), "list.zip");
    await two.page.getByRole("button", { name: "Restore", exact: true }).click();
    await two.page
      .getByRole("alert")
      .getByText(/not a backup made by this program/)
      .waitFor();
    await two.page.getByRole("button", { name: "Not now" }).click();
    await restore(file, "good.zip");
    await two.page.getByRole("button", { name: "Restore", exact: true }).click();
    await two.page.getByText(/4 dogs added, 10 sessions added/).waitFor();
    await goTo(two.page, "/dogs/example-ju", "Juniper");
    await goTo(two.page, "/settings", "Settings");
    await expectValue(two.page, "Your name", "R. Hale");
    await two.page.getByRole("button", { name: "Delete everything" }).click();
    await two.page.getByRole("button", { name: "Delete everything" }).click();
    await goTo(two.page, "/dogs", "Dogs");
    await two.page.getByRole("heading", { name: "No dogs yet" }).waitFor();
    await two.context.close();
  });
});

describe("with the keyboard alone", () => {
  it("a dog is added, measured and planned", async () => {
    const { context, page } = await newDevice(sizes[1]);
    const tabTo = async (name: RegExp) => {
      for (let i = 0; i < 60; i++) {
        await page.keyboard.press("Tab");
        const reached = await page.evaluate(() => {
          const at = document.activeElement as HTMLElement & { labels?: NodeListOf<HTMLLabelElement> };
          // The whole page holds every name.
          if (at === document.body) return "";
          return at.getAttribute("aria-label") ?? at.labels?.[0]?.textContent ?? at.textContent ?? "";
        });
        if (name.test(reached)) return;
      }
      throw new Error(`The keyboard never reached ${name}.`);
    };
    await tabTo(/Add a dog/);
    await page.keyboard.press("Enter");
    await page.getByLabel("Name").waitFor();
    await tabTo(/^Name/);
    await page.keyboard.type("Hazel");
    await tabTo(/Floor to withers/);
    await page.keyboard.type("48");
    await tabTo(/^Walk/);
    await page.keyboard.press("ArrowRight");
    await tabTo(/Done/);
    await page.keyboard.press("Enter");
    await page.getByRole("link", { name: "Plan it" }).waitFor();
    await tabTo(/Plan it/);
    await page.keyboard.press("Enter");
    await page.getByRole("button", { name: "Plan this row" }).waitFor();
    await tabTo(/Plan this row/);
    await page.keyboard.press("Enter");
    await page.getByRole("button", { name: "One pole fewer" }).waitFor();
    await tabTo(/One pole fewer/);
    await page.keyboard.press("Space");
    await expectDescription(page.getByRole("img", { name: /The row to scale/ }), "0, 48, 96, 144, 192.");
    await context.close();
  });
});

describe("an address of something that is not here", () => {
  it("says so and leads back", async () => {
    const { context, page } = await newDevice();
    await goTo(page, "/dogs/nobody", "No such dog here");
    await goTo(page, "/sessions/nothing", "No such session here");
    await goTo(page, "/nowhere", "No such page");
    await page.getByRole("link", { name: "To the first screen" }).click();
    await page.getByRole("heading", { name: "Pawgap", level: 1 }).waitFor();
    await context.close();
  });
});
