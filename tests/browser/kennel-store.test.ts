import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { openBrowser, type Site, startSite } from "./harness.ts";

let site: Site;
let browser: Browser;
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
  // Every test has a browser profile, and so a device, of its own.
  page = await (await browser.newContext()).newPage();
  await page.goto(`${site.url}assets/mark.svg`);
});

/** Runs in the page, with an opened keeper at hand. */
async function withKeeper<T>(work: string): Promise<T> {
  const open = site.file("src/store/open.ts");
  const records = site.file("tests/unit/store-records.ts");
  return (await page.evaluate(`(async () => {
    const { openKeeper } = await import(${JSON.stringify(open)});
    const { dogDraft, sessionDraft, clipDraft } = await import(${JSON.stringify(records)});
    const keeper = await openKeeper("t");
    const shelf = async () => {
      const folder = await (await navigator.storage.getDirectory()).getDirectoryHandle("t-films");
      return { folder, names: await Array.fromAsync(folder.keys()) };
    };
    const film = (n) => new Blob([new Uint8Array(n).map((_, i) => (i * 7919) % 251)], { type: "video/mp4" });
    const addFilm = async (bytes = 3e6) => {
      const session = await keeper.putSession(sessionDraft(null));
      const clip = await keeper.putClip(clipDraft(session.id));
      await keeper.putClipBlob(clip.id, film(bytes));
      return clip;
    };
    const sum = async (blob) => Array.from(new Uint8Array(await crypto.subtle.digest("SHA-256", await blob.arrayBuffer()))).join();
    try { ${work} } finally { keeper.close(); }
  })()`)) as T;
}

describe("films in a real browser", () => {
  it("lie as files outside the database and come back byte for byte, also after a reload", async () => {
    const first = await withKeeper<{ id: string; files: number; sum: string; steps: number }>(`
      const session = await keeper.putSession(sessionDraft(null));
      const clip = await keeper.putClip(clipDraft(session.id));
      let steps = 0;
      await keeper.putClipBlob(clip.id, film(20e6), () => { steps++; });
      return { id: clip.id, files: (await shelf()).names.length, sum: await sum(film(20e6)), steps };
    `);
    expect(first.files).toBe(1);
    expect(first.steps).toBeGreaterThan(3);
    await page.reload();
    const later = await withKeeper<{ sum: string; type: string; lasting: boolean }>(`
      const blob = await keeper.getClipBlob(${JSON.stringify(first.id)});
      return { sum: await sum(blob), type: blob.type, lasting: keeper.lasting };
    `);
    expect(later).toEqual({ sum: first.sum, type: "video/mp4", lasting: true });
  });

  it("that were deleted outside are noticed, and the clip's landings stay", async () => {
    const seen = await withKeeper<unknown>(`
      const clip = await addFilm();
      const { folder, names } = await shelf();
      await folder.removeEntry(names[0]);
      const gone = await keeper.getClipBlob(clip.id);
      return { gone, clip: await keeper.clip(clip.id), storage: await keeper.storage() };
    `);
    expect(seen).toMatchObject({ gone: null, clip: { filmKept: false }, storage: { films: 0 } });
  });

  it("are freed from the disk when they are deleted, replaced or all go", async () => {
    const counts = await withKeeper<number[]>(`
      const counts = [];
      const count = async () => counts.push((await shelf()).names.length);
      const a = await addFilm();
      const b = await addFilm();
      await count();
      await keeper.putClipBlob(a.id, film(1000));
      await count();
      await keeper.deleteClipBlob(a.id);
      await count();
      await keeper.deleteSession(b.sessionId);
      await count();
      await addFilm();
      await keeper.deleteEverything();
      await count();
      return counts;
    `);
    expect(counts).toEqual([2, 2, 1, 0, 0]);
  });

  it("half written when the page closed are swept away at the next start", async () => {
    await withKeeper(`
      await addFilm();
      const { folder } = await shelf();
      const stray = await (await folder.getFileHandle("stray", { create: true })).createWritable();
      await stray.write(film(1000));
      await stray.close();
    `);
    await page.reload();
    // Sweeping goes on beside the start, so that nobody waits for it.
    await expect.poll(() => withKeeper("return (await shelf()).names.length")).toBe(1);
  });

  it("stopped on the way leave nothing behind", async () => {
    const seen = await withKeeper<unknown>(`
      const session = await keeper.putSession(sessionDraft(null));
      const clip = await keeper.putClip(clipDraft(session.id));
      const stop = new AbortController();
      const kept = keeper.putClipBlob(clip.id, film(30e6), () => stop.abort(), stop.signal);
      const kind = await kept.then(() => "kept", (error) => error.kind);
      return { kind, files: (await shelf()).names.length, clip: await keeper.clip(clip.id) };
    `);
    expect(seen).toMatchObject({ kind: "cancelled", files: 0, clip: { filmKept: false } });
  });
});

describe("a device that is full", () => {
  it("refuses a film in a sentence, and what was kept stays", async () => {
    const devtools = await page.context().newCDPSession(page);
    const origin = new URL(site.url).origin;
    await devtools.send("Storage.overrideQuotaForOrigin", { origin, quotaSize: 4e6 });
    const seen = await withKeeper<{
      kind: string;
      message: string;
      dogs: number;
      files: number;
      kept: boolean;
    }>(`
      await keeper.putDog(dogDraft());
      const session = await keeper.putSession(sessionDraft(null));
      const clip = await keeper.putClip(clipDraft(session.id));
      const failure = await keeper.putClipBlob(clip.id, film(30e6)).then(() => ({}), (error) => error);
      return {
        kind: failure.kind,
        message: failure.message,
        dogs: (await keeper.dogs()).length,
        files: (await shelf()).names.length,
        kept: (await keeper.clip(clip.id)).filmKept,
      };
    `);
    expect(seen).toMatchObject({ kind: "full", dogs: 1, files: 0, kept: false });
    expect(seen.message).toMatch(/no room left.*everything kept before is still there/);
  });

  it("refuses a backup whose films do not fit before anything is changed", async () => {
    const file = await withKeeper<number[]>(`
      await addFilm(6e6);
      const file = await keeper.backup({ films: true });
      await keeper.deleteEverything();
      const handle = await (await navigator.storage.getDirectory()).getFileHandle("backup", { create: true });
      const out = await handle.createWritable();
      await out.write(file);
      await out.close();
      return [file.size];
    `);
    const devtools = await page.context().newCDPSession(page);
    const quotaSize = file[0]! + 3e6;
    await devtools.send("Storage.overrideQuotaForOrigin", { origin: new URL(site.url).origin, quotaSize });
    const seen = await withKeeper<unknown>(`
      const backup = await (await (await navigator.storage.getDirectory()).getFileHandle("backup")).getFile();
      const kind = await keeper.restore(backup, "merge").then(() => "restored", (error) => error.kind);
      return { kind, sessions: (await keeper.sessions()).length, files: (await shelf()).names.length };
    `);
    expect(seen).toEqual({ kind: "full", sessions: 0, files: 0 });
  });
});

describe("a backup in a real browser", () => {
  it("carries films over to another device", async () => {
    const there = await withKeeper<{ same: boolean; report: unknown; files: number }>(`
      const clip = await addFilm(9e6);
      const before = await sum(await keeper.getClipBlob(clip.id));
      const file = await keeper.backup({ films: true });
      await keeper.deleteEverything();
      const report = await keeper.restore(file, "merge");
      const after = await sum(await keeper.getClipBlob(clip.id));
      return { same: before === after, report, files: (await shelf()).names.length };
    `);
    expect(there).toMatchObject({ same: true, report: { clipsAdded: 1, filmsRestored: 1 }, files: 1 });
  });

  it("with a damaged film is refused, and no file stays behind", async () => {
    const seen = await withKeeper<unknown>(`
      await addFilm(9e6);
      const bytes = new Uint8Array(await (await keeper.backup({ films: true })).arrayBuffer());
      bytes[bytes.length - 4e6] ^= 1;
      await keeper.deleteEverything();
      const dog = await keeper.putDog(dogDraft());
      const kinds = [];
      for (const mode of ["merge", "replace"]) {
        kinds.push(await keeper.restore(new Blob([bytes]), mode).then(() => "restored", (error) => error.kind));
      }
      return { kinds, files: (await shelf()).names.length, dogs: (await keeper.dogs()).length };
    `);
    expect(seen).toEqual({ kinds: ["damaged-backup", "damaged-backup"], files: 0, dogs: 1 });
  });
});

describe("a second window", () => {
  it("sees what the first one keeps", async () => {
    const other = await page.context().newPage();
    await other.goto(`${site.url}assets/mark.svg`);
    const seen = other.evaluate(`(async () => {
      const { openKeeper } = await import(${JSON.stringify(site.file("src/store/open.ts"))});
      const keeper = await openKeeper("t");
      return await new Promise((resolve) => keeper.watch((from) => from.dogs(), (dogs) => dogs.length && resolve(dogs[0].name)));
    })()`);
    await new Promise((resolve) => setTimeout(resolve, 500));
    await withKeeper("await keeper.putDog(dogDraft())");
    expect(await seen).toBe("Juniper");
  });
});
