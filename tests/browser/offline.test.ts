import { cpSync, mkdtempSync, readFileSync, rmSync, unlinkSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import type { Browser, BrowserContext, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { buildIfNeeded, root } from "../../src/command/prepare.mjs";
import { serveSite } from "../../src/command/site.mjs";
import { PROGRAM_BYTES } from "../../src/video/extra-program.ts";
import { openBrowser } from "./harness.ts";

const hevc = fileURLToPath(new URL("../../fixtures/odd/phone-hevc.mov", import.meta.url));

let browser: Browser;

beforeAll(async () => {
  buildIfNeeded();
  browser = await openBrowser();
});

afterAll(async () => {
  await browser?.close();
});

/** Every address asked for by pages, workers and the service worker, and every refusal by the content policy. */
function watch(context: BrowserContext) {
  const asked: string[] = [];
  const refused: string[] = [];
  context.on("request", (request) => asked.push(request.url()));
  context.on("console", (message) => {
    if (/Content Security Policy/.test(message.text())) refused.push(message.text());
  });
  return { asked, refused };
}

async function firstScreen(page: Page, url: string): Promise<void> {
  await page.goto(url);
  await page.getByRole("button", { name: /demo clip/i }).waitFor();
}

/** Waits until the first visit's files are all kept. */
async function allKept(page: Page): Promise<void> {
  await page.evaluate(() => navigator.serviceWorker.ready);
}

async function runDemo(page: Page): Promise<void> {
  await page.getByRole("button", { name: "Try the demo clip" }).click();
  await page.locator(".verdict-sentence").waitFor({ timeout: 240_000 });
}

/** Opens a clip that the browser can't decode, marks a row on its test card and looks through it. */
async function runHevc(page: Page, fetching: boolean): Promise<void> {
  await page.getByLabel("Check a clip", { exact: true }).setInputFiles(hevc);
  if (fetching) await page.getByRole("button", { name: "Fetch 32 MB" }).click();
  await page.getByText("the slower reader (hevc)").waitFor({ timeout: 120_000 });
  await page.getByRole("button", { name: "Mark the poles" }).click();
  await page.locator(".stage-wait").waitFor({ state: "detached" });
  await page.getByRole("button", { name: "Snap to the pole's end" }).click();
  const box = await page.locator(".stage").boundingBox();
  if (!box) throw new Error("There is no picture on this screen.");
  for (let pole = 0; pole < 4; pole++) {
    await page.mouse.click(box.x + 100 + 50 * pole, box.y + box.height / 2 + 40);
    await page.mouse.click(box.x + 110 + 45 * pole, box.y + box.height / 2 + 10);
  }
  await page.getByLabel("Spacing, pole to pole").fill("50");
  await page.getByRole("button", { name: "Find the landings" }).click();
  await page.getByText("No landing was found by itself").waitFor({ timeout: 240_000 });
}

describe("the built app", () => {
  it("can be installed, and with its server gone works with both decoders", async () => {
    const site = await serveSite();
    const context = await browser.newContext({ viewport: { width: 390, height: 844 } });
    const page = await context.newPage();
    await firstScreen(page, site.url);
    await allKept(page);
    const debug = await context.newCDPSession(page);
    const { installabilityErrors } = await debug.send("Page.getInstallabilityErrors");
    // A window without a profile on disk can never install anything; all else would be ours.
    expect(installabilityErrors.map((one) => one.errorId).filter((id) => id !== "in-incognito")).toEqual([]);

    await page.getByRole("link", { name: "Settings" }).click();
    await page
      .getByText(/kept, \d+ MB/)
      .first()
      .waitFor();
    await page
      .getByRole("button", { name: `Fetch the extra decoder, ${Math.round(PROGRAM_BYTES / 1e6)} MB` })
      .click();
    await page.getByRole("button", { name: "Free its 32 MB" }).waitFor({ timeout: 60_000 });

    await site.close();
    await firstScreen(page, site.url);
    await page.reload();
    await runDemo(page);
    await firstScreen(page, site.url);
    await page.reload();
    await runHevc(page, false);
    await context.close();
  });

  it("asks nobody but its own server on the whole path, sends nothing, and breaks no rule of its policy", async () => {
    const site = await serveSite();
    const context = await browser.newContext({
      viewport: { width: 390, height: 844 },
      acceptDownloads: true,
    });
    const { asked, refused } = watch(context);
    const sent: string[] = [];
    context.on("request", (request) => {
      if (request.method() !== "GET" || request.postData()) sent.push(`${request.method()} ${request.url()}`);
    });
    const page = await context.newPage();
    await firstScreen(page, site.url);
    expect(await page.evaluate(() => crossOriginIsolated)).toBe(true);
    await runDemo(page);
    await page.getByRole("navigation").getByRole("link", { name: "Landings" }).click();
    await page.getByRole("button", { name: "Skeleton" }).click();
    await page.locator(".stage-overlay").first().waitFor();
    await page.getByRole("navigation").getByRole("link", { name: "Report" }).click();
    await page.frameLocator("iframe.report-sheet").locator("h1").first().waitFor();
    await page.getByRole("radio", { name: "Every landing" }).check();
    await page.getByRole("button", { name: "Film pictures into the report" }).click();
    await page.getByRole("button", { name: "Leave film pictures out" }).waitFor({ timeout: 60_000 });
    const exports = page.locator("button.takeaway");
    const count = await exports.count();
    expect(count).toBeGreaterThanOrEqual(5);
    for (let k = 0; k < count; k++) {
      await Promise.all([page.waitForEvent("download", { timeout: 120_000 }), exports.nth(k).click()]);
    }
    await page.goto(`${site.url}#/settings`);
    const backup = page.waitForEvent("download");
    await page.getByRole("button", { name: "Back up now" }).click();
    const file = await (await backup).path();
    await page.getByText("Restore a backup").locator("input").setInputFiles(file);
    await page.getByRole("button", { name: "Restore", exact: true }).click();
    await page.getByText("was here already").waitFor();
    await page.goto(site.url);
    await page.getByRole("button", { name: /demo clip/i }).waitFor();
    await runHevc(page, true);

    const own = new URL(site.url).origin;
    const strangers = asked.filter((url) => !/^(blob|data):/.test(url) && new URL(url).origin !== own);
    expect(asked.length).toBeGreaterThan(30);
    expect(strangers).toEqual([]);
    expect(sent).toEqual([]);
    expect(refused).toEqual([]);
    await context.close();
    await site.close();
  });

  it("has its policy refuse what a script put into it would try", async () => {
    const site = await serveSite();
    const stranger = await listening();
    const page = await browser.newPage();
    await firstScreen(page, site.url);
    const tried = await page.evaluate(async (url) => {
      const fetched = await fetch(url).then(
        () => "reached",
        () => "refused",
      );
      const picture = await new Promise((done) => {
        const image = new Image();
        image.onload = () => done("reached");
        image.onerror = () => done("refused");
        image.src = `${url}/a.png`;
      });
      const script = document.createElement("script");
      script.textContent = "window.ran = true";
      document.body.append(script);
      const holder = document.createElement("div");
      holder.innerHTML = '<img src="nowhere" onerror="window.ran = true">';
      document.body.append(holder);
      await new Promise((done) => setTimeout(done, 200));
      let evaluated = "ran";
      try {
        new Function("return 1")();
      } catch {
        evaluated = "refused";
      }
      return { fetched, picture, evaluated, ran: "ran" in window };
    }, stranger.url);
    expect(tried).toEqual({ fetched: "refused", picture: "refused", evaluated: "refused", ran: false });
    expect(stranger.asked()).toBe(0);
    await page.close();
    await stranger.close();
    await site.close();
  });

  it("lets a session go on undisturbed while a newer version arrives, and begins with that one the next time", async () => {
    const folder = mkdtempSync(join(tmpdir(), "pawgap-update-"));
    cpSync(join(root, "dist"), folder, { recursive: true });
    const site = await serveSite({ folder });
    const context = await browser.newContext({ viewport: { width: 390, height: 844 } });
    const page = await context.newPage();
    await firstScreen(page, site.url);
    await allKept(page);

    // The newer version is put on the server, and a lazy part of the old one is gone from it.
    const index = readFileSync(join(folder, "index.html"), "utf8");
    writeFileSync(join(folder, "index.html"), index.replace("<title>Pawgap", "<title>Newer Pawgap"));
    const worker = readFileSync(join(folder, "sw.js"), "utf8");
    writeFileSync(
      join(folder, "sw.js"),
      worker.replace(/(url:"index\.html",revision:")[0-9a-f]+/, "$1newer"),
    );
    const parts = /assets\/KennelRoutes-[\w-]+\.js/.exec(worker);
    expect(parts).not.toBeNull();
    unlinkSync(join(folder, parts?.[0] ?? ""));
    await page.evaluate(async () => {
      const registration = await navigator.serviceWorker.ready;
      await registration.update();
      while (!registration.waiting) await new Promise((done) => setTimeout(done, 50));
    });
    await page.getByRole("link", { name: "Settings" }).click();
    await page.getByText("A newer version is here").waitFor();
    await page.reload();
    await page.getByRole("heading", { name: "Settings" }).waitFor();
    expect(await page.evaluate(() => fetch("./").then((page) => page.text()))).not.toContain("Newer");

    await page.close();
    const next = await context.newPage();
    await expect
      .poll(async () => {
        await next.goto(site.url);
        return next.evaluate(() => fetch("./").then((page) => page.text()));
      })
      .toContain("Newer");
    await context.close();
    await site.close();
    rmSync(folder, { recursive: true, force: true });
  });

  it("shows a dog's name as text, whatever it looks like", async () => {
    const site = await serveSite();
    const page = await browser.newPage();
    await firstScreen(page, site.url);
    const name = '<img onerror="ran=1" src=x><b>Otto</b>';
    await page.goto(`${site.url}#/dogs/new`);
    await page.getByLabel("Name", { exact: true }).fill(name);
    await page.getByRole("button", { name: "Done" }).click();
    await page.getByText(name).first().waitFor();
    await page.goto(site.url);
    await page.getByText(name).first().waitFor();
    expect(await page.locator("b", { hasText: "Otto" }).count()).toBe(0);
    expect(await page.evaluate(() => "ran" in window)).toBe(false);
    await page.close();
    await site.close();
  });
});

/** A server elsewhere that counts who comes. */
async function listening() {
  let asked = 0;
  const server = createServer((_, response) => {
    asked++;
    response.writeHead(200, { "access-control-allow-origin": "*" }).end("here");
  });
  await new Promise<void>((done) => server.listen(0, "127.0.0.1", done));
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
    asked: () => asked,
    close: () => new Promise((done) => server.close(done)),
  };
}
