import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { strToU8, unzipSync, zipSync } from "fflate";
import type { Browser, BrowserContext, Page } from "playwright-core";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { openBrowser, type Site, startSite } from "./harness.ts";

// What can go wrong with what is kept, each met in the app itself: said in a sentence, and nothing lost.

let site: Site;
let browser: Browser;
let context: BrowserContext;
let page: Page;

beforeAll(async () => {
  site = await startSite();
  browser = await openBrowser();
});
afterAll(async () => {
  await browser?.close();
  await site?.close();
});
beforeEach(async () => {
  // A device of its own.
  context = await browser.newContext({ viewport: { width: 390, height: 844 }, acceptDownloads: true });
  page = await context.newPage();
  page.setDefaultTimeout(120_000);
  return () => context.close();
});

const film = fileURLToPath(new URL("../../fixtures/odd/plain-60.mp4", import.meta.url));
const largeFilm = fileURLToPath(new URL("../../fixtures/clips/demo-fits.mp4", import.meta.url));

async function goTo(path: string, heading: string): Promise<void> {
  await page.goto(`${site.url}#${path}`);
  await page.getByRole("heading", { name: heading, level: 1, exact: true }).waitFor();
}

async function takeClip(path: string): Promise<void> {
  await goTo("/", "Pawgap");
  await page.getByLabel("Check a clip", { exact: true }).setInputFiles(path);
  await page.getByRole("heading", { name: "Clip", level: 1, exact: true }).waitFor();
}

async function addDog(name: string): Promise<void> {
  await goTo("/dogs/new", "A new dog");
  await page.getByLabel("Name").fill(name);
  await page.getByRole("button", { name: "Done" }).click();
  await page.getByRole("heading", { name, level: 1 }).waitFor();
}

/** Films that lie on this device. */
function filmFiles(): Promise<number> {
  return page.evaluate(async () => {
    const root = await navigator.storage.getDirectory();
    let count = 0;
    for await (const folder of root.values()) {
      if (folder instanceof FileSystemDirectoryHandle) for await (const _ of folder.keys()) count++;
    }
    return count;
  });
}

describe("a clip", () => {
  it("for which the device has no room can be worked on all the same, and is said not to be kept", async () => {
    await addDog("Otto");
    const devtools = await context.newCDPSession(page);
    const origin = new URL(site.url).origin;
    const { usage } = await devtools.send("Storage.getUsageAndQuota", { origin });
    await devtools.send("Storage.overrideQuotaForOrigin", { origin, quotaSize: usage + 100_000 });
    await takeClip(largeFilm);
    await page.getByText("There is no room to keep this film on the device.").waitFor();
    await page.getByText("Length").waitFor();
    await expect.poll(() => page.getByRole("button", { name: "Mark the poles" }).isEnabled()).toBe(true);
    await goTo("/dogs", "Dogs");
    await page.getByRole("link", { name: /Otto/ }).waitFor();
  });

  it("whose film was cleared away from outside is missed, keeps its session, and takes the film again", async () => {
    await takeClip(film);
    await page.evaluate(async () => {
      const root = await navigator.storage.getDirectory();
      for await (const name of root.keys()) await root.removeEntry(name, { recursive: true });
    });
    await page.reload();
    await page.getByText(/The film .*plain-60\.mp4.* is not kept on this device any more/).waitFor();
    await page.getByLabel("Pick the film").setInputFiles(film);
    await page.getByRole("button", { name: "Mark the poles" }).waitFor();
    await expect.poll(filmFiles).toBe(1);
    await page.reload();
    await page.getByRole("button", { name: "Mark the poles" }).waitFor();
    await goTo("/sessions", "Sessions");
    await expect.poll(() => page.locator(".kennel-row").count()).toBe(1);
  });
});

describe("a backup", () => {
  it("of a newer version is refused with the way out, and nothing changes", async () => {
    await addDog("Wren");
    await goTo("/settings", "Settings");
    const downloading = page.waitForEvent("download");
    await page.getByRole("button", { name: "Back up now" }).click();
    const files = unzipSync(readFileSync(await (await downloading).path()));
    const kennel = JSON.parse(new TextDecoder().decode(files["kennel.json"]));
    const newer = zipSync({ ...files, "kennel.json": strToU8(JSON.stringify({ ...kennel, format: 99 })) });
    await page.getByLabel("Restore a backup").setInputFiles({
      name: "newer.zip",
      mimeType: "application/zip",
      buffer: Buffer.from(newer),
    });
    await page.getByRole("radio", { name: "Take its place" }).check();
    await page.getByText("Everything that is here now goes").waitFor();
    await page.getByRole("button", { name: "Restore", exact: true }).click();
    await page
      .getByRole("alert")
      .getByText(/made by a newer version.*Reload the page.*nothing has been changed here/)
      .waitFor();
    await goTo("/dogs", "Dogs");
    await page.getByRole("link", { name: /Wren/ }).waitFor();
  });

  it("does not bring back a dog that was removed since, and says so", async () => {
    await addDog("Wren");
    await goTo("/settings", "Settings");
    const downloading = page.waitForEvent("download");
    await page.getByRole("button", { name: "Back up now" }).click();
    const path = await (await downloading).path();
    await goTo("/dogs", "Dogs");
    await page.getByRole("link", { name: /Wren/ }).click();
    await page.getByRole("button", { name: "Remove Wren" }).click();
    await page.getByRole("button", { name: "Remove the dog" }).click();
    await page.getByRole("heading", { name: "No dogs yet" }).waitFor();
    await addDog("Otto");
    await goTo("/settings", "Settings");
    await page.getByLabel("Restore a backup").setInputFiles(path);
    await page.getByRole("button", { name: "Restore", exact: true }).click();
    await page.getByText("1 dog of this backup had been deleted here and stayed so.").waitFor();
    await goTo("/dogs", "Dogs");
    await page.getByRole("link", { name: /Otto/ }).waitFor();
    expect(await page.getByRole("link", { name: /Wren/ }).count()).toBe(0);
  });
});

describe("a dog with sessions", () => {
  it("goes with them where that is asked for, and no clip stays behind", async () => {
    await addDog("Biscuit");
    await page.getByRole("link", { name: "Check a clip" }).click();
    await page.getByLabel("Check a clip", { exact: true }).setInputFiles(film);
    await page.getByRole("heading", { name: "Clip", level: 1, exact: true }).waitFor();
    const clip = page.url();
    await goTo("/dogs", "Dogs");
    await page.getByRole("link", { name: /Biscuit/ }).click();
    await page.getByRole("button", { name: "Remove Biscuit" }).click();
    await page.getByText("Biscuit has one session. They can stay, under its name, or go too").waitFor();
    await page.getByRole("button", { name: "Remove the dog and its sessions" }).click();
    await page.getByRole("heading", { name: "No dogs yet" }).waitFor();
    await page.goto(clip);
    await page.reload();
    await page.getByText(/This clip is not on this device/).waitFor();
    await expect.poll(filmFiles).toBe(0);
  });
});

describe("a device that comes from an earlier version", () => {
  it("keeps its dogs and sessions, and works on", async () => {
    await page.goto(`${site.url}assets/mark.svg`);
    await page.evaluate(
      () =>
        new Promise<void>((resolve, reject) => {
          // The tables of version 1 as a browser held them: IndexedDB counts ten for each.
          const opening = indexedDB.open("pawgap", 10);
          opening.onupgradeneeded = () => {
            const tables = opening.result;
            tables.createObjectStore("dogs", { keyPath: "id" }).createIndex("name", "name");
            const sessions = tables.createObjectStore("sessions", { keyPath: "id" });
            sessions.createIndex("dogId", "dogId");
            sessions.createIndex("date", "date");
            tables.createObjectStore("clips", { keyPath: "id" }).createIndex("sessionId", "sessionId");
            tables.createObjectStore("films", { keyPath: "clipId" });
            tables.createObjectStore("settings", { keyPath: "id" });
          };
          opening.onerror = () => reject(opening.error);
          opening.onsuccess = () => {
            const stamps = { addedAt: 1, changedAt: 1 };
            const writing = opening.result.transaction(["dogs", "sessions"], "readwrite");
            const measures = {
              shoulderM: null,
              withersM: 0.5,
              bodyLengthM: null,
              elbowM: null,
              carpusM: null,
              hockM: null,
            };
            writing.objectStore("dogs").add({
              ...stamps,
              id: "d1",
              name: "Juniper",
              letters: "JU",
              photo: null,
              measures,
              gait: "trot",
              aim: "first-poles",
              shortLegged: false,
              cautions: [],
              clearance: null,
              notes: "Kept since the first version.",
              plan: null,
            });
            writing.objectStore("sessions").add({
              ...stamps,
              id: "s1",
              dogId: "d1",
              dogName: "Juniper",
              date: Date.UTC(2026, 2, 14, 9),
              layout: null,
              gait: "trot",
              aim: "first-poles",
              surface: "grass",
              handlerSide: "left",
              notes: "By hand.",
              howDogFelt: null,
              knocksSeen: null,
              judgement: null,
            });
            writing.oncomplete = () => {
              opening.result.close();
              resolve();
            };
          };
        }),
    );
    await goTo("/dogs/d1", "Juniper");
    await page.getByText("Kept since the first version.").waitFor();
    await goTo("/sessions/s1", "Juniper");
    await expect.poll(() => page.getByLabel("Notes").inputValue()).toBe("By hand.");
    await page.getByRole("button", { name: "Delete this session" }).click();
    await page.getByRole("button", { name: "Delete the session" }).click();
    await page.getByText("None yet. The first clip starts one.").waitFor();
  });
});
