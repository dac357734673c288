import "fake-indexeddb/auto";
import { BlobReader, BlobWriter, TextReader, ZipReader, ZipWriter } from "@zip.js/zip.js/external";
import { Dexie } from "dexie";
import fc from "fast-check";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { mergeRecords } from "../../src/store/merge.ts";
import { openKeeper } from "../../src/store/open.ts";
import { type Keeper, KeeperError, type KennelRecords } from "../../src/store/types.ts";
import { clipDraft, dogDraft, sessionDraft, someAnalysis, somePass } from "./store-records.ts";

let names: string[] = [];
let keepers: Keeper[] = [];

async function freshKeeper(): Promise<Keeper> {
  const name = `kennel-${Math.random()}`;
  const keeper = await openKeeper(name);
  names.push(name);
  keepers.push(keeper);
  return keeper;
}

async function everything(keeper: Keeper): Promise<KennelRecords> {
  const sessions = await keeper.sessions();
  return {
    dogs: await keeper.dogs(),
    sessions,
    clips: (await Promise.all(sessions.map((session) => keeper.clips(session.id)))).flat(),
  };
}

/** A kennel with a dog, a session, and a clip with its film. */
async function fill(keeper: Keeper) {
  const dog = await keeper.putDog(dogDraft({ photo: "data:image/png;base64,iVBORw0KGgo=" }));
  const session = await keeper.putSession(sessionDraft(dog.id));
  const clip = await keeper.putClip(
    clipDraft(session.id, { analysis: someAnalysis, editedPasses: [somePass] }),
  );
  await keeper.putClipBlob(clip.id, new Blob([film], { type: "video/mp4" }));
  return { dog, session, clip };
}
const film = new Uint8Array(200_000).map((_, i) => (i * 7919) % 251);

async function packed(files: Record<string, string>): Promise<Blob> {
  const zip = new ZipWriter(new BlobWriter("application/zip"));
  for (const [path, content] of Object.entries(files)) await zip.add(path, new TextReader(content));
  return zip.close();
}

async function unpacked(file: Blob): Promise<Record<string, string>> {
  const out: Record<string, string> = {};
  for (const entry of await new ZipReader(new BlobReader(file)).getEntries()) {
    if (!entry.directory) out[entry.filename] = await (await entry.getData(new BlobWriter())).text();
  }
  return out;
}

let keeper: Keeper;
beforeEach(async () => {
  keeper = await freshKeeper();
});
afterEach(async () => {
  for (const one of keepers) one.close();
  for (const name of names) await Dexie.delete(name);
  names = [];
  keepers = [];
});

describe("a backup", () => {
  it("brings everything back on another device, films and open intervals included", async () => {
    const { clip } = await fill(keeper);
    await keeper.putSettings({ practitioner: "R. Hale", units: "in" });
    const seen: number[] = [];
    const file = await keeper.backup({ films: true, onProgress: (p) => seen.push(p.bytesDone) });
    expect(seen.at(-1)).toBe(film.byteLength);
    const before = await everything(keeper);

    const other = await freshKeeper();
    const report = await other.restore(file, "replace");
    expect(report).toMatchObject({
      dogsAdded: 1,
      sessionsAdded: 1,
      clipsAdded: 1,
      filmsRestored: 1,
      notes: [],
    });
    expect(await everything(other)).toEqual(before);
    expect(new Uint8Array(await (await other.getClipBlob(clip.id))!.arrayBuffer())).toEqual(film);
    expect(await other.settings()).toMatchObject({ practitioner: "R. Hale", units: "in" });
  });

  it("without films is small and says which films it has not", async () => {
    await fill(keeper);
    const file = await keeper.backup();
    expect(file.size).toBeLessThan(20_000);
    const other = await freshKeeper();
    await other.restore(file, "merge");
    expect((await everything(other)).clips[0]).toMatchObject({ filmKept: false, analysis: someAnalysis });
  });

  it("remembers when it was made", async () => {
    await keeper.backup();
    expect((await keeper.settings()).lastBackupAt).toBeGreaterThan(Date.now() - 60_000);
  });

  it("can be stopped", async () => {
    const stop = new AbortController();
    stop.abort();
    await expect(keeper.backup({ films: true, signal: stop.signal })).rejects.toMatchObject({
      kind: "cancelled",
    });
  });
});

describe("merging", () => {
  it("adds what is new, lets the newer of two win, and takes nothing away", async () => {
    const { dog } = await fill(keeper);
    const file = await keeper.backup({ films: true });
    await keeper.changeDog(dog.id, { notes: "written after the backup" });
    const extra = await keeper.putDog(dogDraft({ name: "Otto", letters: "OT" }));
    const report = await keeper.restore(file, "merge");
    expect(report).toMatchObject({ dogsAdded: 0, dogsUpdated: 0, sessionsAdded: 0, filmsRestored: 0 });
    expect(await keeper.dog(dog.id)).toMatchObject({ notes: "written after the backup" });
    expect(await keeper.dog(extra.id)).toBeDefined();
    const twice = await keeper.restore(file, "merge");
    expect(twice.notes).toEqual([]);
    expect((await everything(keeper)).dogs).toHaveLength(2);
  });

  it("keeps two dogs of the same name apart and says that their letters clash", async () => {
    await fill(keeper);
    const file = await keeper.backup();
    const other = await freshKeeper();
    await other.putDog(dogDraft());
    const report = await other.restore(file, "merge");
    expect((await other.dogs()).map((dog) => dog.name)).toEqual(["Juniper", "Juniper"]);
    expect(report.notes.join()).toMatch(/Juniper and Juniper carry the same letters, JU/);
  });

  it("does not bring back what was deleted here, and says so", async () => {
    const { dog, session, clip } = await fill(keeper);
    const file = await keeper.backup({ films: true });
    await keeper.deleteSession(session.id);
    const report = await keeper.restore(file, "merge");
    expect(report).toMatchObject({ sessionsAdded: 0, clipsAdded: 0, filmsRestored: 0 });
    expect(report.notes.join()).toMatch(
      /1 session and 1 clip of this backup had been deleted here and stayed so/,
    );
    expect([await keeper.session(session.id), await keeper.clip(clip.id)]).toEqual([undefined, undefined]);
    expect(await keeper.storage()).toMatchObject({ films: 0 });
    await keeper.deleteDog(dog.id);
    expect((await keeper.restore(file, "merge")).dogsAdded).toBe(0);
    expect(await keeper.dogs()).toEqual([]);
    // Asked for in so many words, everything comes back.
    expect(await keeper.restore(file, "replace")).toMatchObject({
      dogsAdded: 1,
      clipsAdded: 1,
      filmsRestored: 1,
    });
    expect(await keeper.dog(dog.id)).toBeDefined();
  });

  it("leaves the sessions of a dog that was removed here without it, as they are", async () => {
    const { dog, session } = await fill(keeper);
    const file = await keeper.backup();
    await keeper.deleteDog(dog.id);
    const report = await keeper.restore(file, "merge");
    expect(await keeper.session(session.id)).toMatchObject({ dogId: null, dogName: "Juniper" });
    expect(report.notes).toEqual([
      expect.stringMatching(/^1 dog of this backup had been deleted here and stayed so/),
    ]);
  });

  it("brings back what was changed on the other device after it was deleted here", async () => {
    const { dog } = await fill(keeper);
    const other = await freshKeeper();
    await other.restore(await keeper.backup(), "merge");
    await keeper.deleteDog(dog.id, true);
    await new Promise((resolve) => setTimeout(resolve, 5));
    await other.changeDog(dog.id, { notes: "Went well today" });
    await keeper.restore(await other.backup(), "merge");
    expect((await everything(keeper)).dogs).toMatchObject([{ notes: "Went well today" }]);
    expect((await everything(keeper)).sessions).toEqual([]);
  });

  it("never takes a dog away that was deleted on the other device, but tells of it", async () => {
    const { dog } = await fill(keeper);
    const other = await freshKeeper();
    await other.restore(await keeper.backup(), "merge");
    await other.deleteDog(dog.id, true);
    const report = await keeper.restore(await other.backup(), "merge");
    expect(await keeper.dog(dog.id)).toBeDefined();
    expect(report.notes.join()).toMatch(/Juniper had been deleted on the other device and is still here/);
  });

  it("hands deletions on, so that an older backup brings nothing back on a third device", async () => {
    const { dog } = await fill(keeper);
    const older = await keeper.backup();
    await keeper.deleteDog(dog.id, true);
    const third = await freshKeeper();
    await third.restore(await keeper.backup(), "merge");
    await third.restore(older, "merge");
    expect(await everything(third)).toEqual({ dogs: [], sessions: [], clips: [] });
  });

  it("after everything was deleted takes a backup in whole", async () => {
    const { dog } = await fill(keeper);
    const file = await keeper.backup();
    await keeper.deleteEverything();
    expect(await keeper.restore(file, "merge")).toMatchObject({ dogsAdded: 1, sessionsAdded: 1, notes: [] });
    expect(await keeper.dog(dog.id)).toBeDefined();
  });

  it("takes in a backup made before deletions were remembered", async () => {
    await fill(keeper);
    const file = await keeper.backup();
    const files = await unpacked(file);
    const { gone: _, ...older } = JSON.parse(files["kennel.json"]!);
    const other = await freshKeeper();
    const report = await other.restore(
      await packed({ ...files, "kennel.json": JSON.stringify(older) }),
      "merge",
    );
    expect(report).toMatchObject({ dogsAdded: 1, sessionsAdded: 1, clipsAdded: 1 });
  });

  it("replaces all or nothing", async () => {
    await fill(keeper);
    const file = await keeper.backup({ films: true });
    const other = await freshKeeper();
    const old = await fill(other);
    await other.restore(file, "replace");
    expect(await other.dog(old.dog.id)).toBeUndefined();
    expect(await other.getClipBlob(old.clip.id)).toBeNull();
    expect(await other.storage()).toMatchObject({ films: 1 });
  });

  it("never loses a record and never lets an older one win, whatever the two sides hold", () => {
    const records = fc.uniqueArray(fc.record({ id: fc.constantFrom(..."abcdefgh"), changedAt: fc.nat(5) }), {
      selector: (record) => record.id,
    });
    fc.assert(
      fc.property(records, records, (here, there) => {
        const { put, added, updated } = mergeRecords(here, there);
        const after = new Map([...here, ...put].map((record) => [record.id, record]));
        for (const record of [...here, ...there]) {
          expect(after.get(record.id)!.changedAt).toBeGreaterThanOrEqual(record.changedAt);
        }
        expect(added + updated).toBe(put.length);
        expect(mergeRecords([...after.values()], there).put).toEqual([]);
      }),
    );
  });
});

describe("a file that is no sound backup is refused in a sentence, and nothing changes", () => {
  async function refused(file: Blob, kind: KeeperError["kind"] | RegExp) {
    const before = await everything(keeper);
    for (const mode of ["merge", "replace"] as const) {
      const failure = await keeper.restore(file, mode).then(
        () => undefined,
        (error: unknown) => error,
      );
      expect(failure).toBeInstanceOf(KeeperError);
      const { kind: was, message } = failure as KeeperError;
      if (kind instanceof RegExp) expect(was).toMatch(kind);
      else expect(was).toBe(kind);
      expect(message).toMatch(/nothing has (been )?changed|has changed/i);
    }
    expect(await everything(keeper)).toEqual(before);
    expect(await keeper.storage()).toMatchObject({ films: before.clips.filter((c) => c.filmKept).length });
  }

  it("an empty file, a picture, a text, a zip of something else", async () => {
    await fill(keeper);
    await refused(new Blob([]), "not-a-backup");
    await refused(new Blob([new Uint8Array([0xff, 0xd8, 0xff, 0xe0, 1, 2, 3])]), "not-a-backup");
    await refused(new Blob(["dogs: 3"]), "not-a-backup");
    await refused(await packed({ "readme.txt": "hello" }), "not-a-backup");
    await refused(
      await packed({ "kennel.json": JSON.stringify({ kind: "something-else" }) }),
      "not-a-backup",
    );
  });

  it("a backup of a newer version", async () => {
    await fill(keeper);
    const files = await unpacked(await keeper.backup());
    const newer = { ...JSON.parse(files["kennel.json"]!), format: 2 };
    await refused(await packed({ ...files, "kennel.json": JSON.stringify(newer) }), "newer-backup");
  });

  it("a backup cut off anywhere", async () => {
    await fill(keeper);
    const file = await keeper.backup({ films: true });
    for (const share of [0.01, 0.2, 0.6, 0.9, 0.999]) {
      await refused(file.slice(0, Math.floor(file.size * share)), /damaged-backup|not-a-backup/);
    }
  });

  it("a film with a flipped bit", async () => {
    await fill(keeper);
    const file = await keeper.backup({ films: true });
    const bytes = new Uint8Array(await file.arrayBuffer());
    const at = indexOf(bytes, film.subarray(1000, 1032)) + 8;
    bytes[at] = bytes[at]! ^ 1;
    const other = await freshKeeper();
    await expect(other.restore(new Blob([bytes]), "merge")).rejects.toMatchObject({ kind: "damaged-backup" });
    expect(await other.dogs()).toEqual([]);
    expect(await other.storage()).toMatchObject({ films: 0 });
  });

  it("records that are not what they should be", async () => {
    const { dog } = await fill(keeper);
    const files = await unpacked(await keeper.backup());
    const kennel = JSON.parse(files["kennel.json"]!);
    const changed = (change: object) =>
      packed({
        ...files,
        "kennel.json": JSON.stringify({ ...kennel, dogs: [{ ...kennel.dogs[0], ...change }] }),
      });
    await refused(await changed({ id: "../../etc/passwd" }), "damaged-backup");
    await refused(await changed({ name: "x".repeat(300) }), "damaged-backup");
    await refused(await changed({ measures: { ...dog.measures, withersM: -1 } }), "damaged-backup");
    await refused(await changed({ photo: "data:image/svg+xml;base64,PHN2Zz4=" }), "damaged-backup");
    await refused(await changed({ photo: "https://example.com/a.png" }), "damaged-backup");
    await refused(await changed({ changedAt: "yesterday" }), "damaged-backup");
    const twins = { ...kennel, dogs: [kennel.dogs[0], kennel.dogs[0]] };
    await refused(await packed({ ...files, "kennel.json": JSON.stringify(twins) }), "damaged-backup");
  });

  it("a text that unpacks to far more than a backup ever holds", async () => {
    await fill(keeper);
    const bomb = new Blob(Array.from({ length: 65 }, () => new Uint8Array(2 ** 20).fill(32)));
    const zip = new ZipWriter(new BlobWriter("application/zip"));
    await zip.add("kennel.json", new BlobReader(bomb));
    await refused(await zip.close(), "too-large");
  });

  it("paths that lead out of the file", async () => {
    await fill(keeper);
    const files = await unpacked(await keeper.backup());
    for (const path of ["films/../../evil", "/clips/a.json", "..\\clips\\b.json"]) {
      await refused(await packed({ ...files, [path]: "{}" }), "damaged-backup");
    }
  });

  it("sessions and clips that belong to nobody are told, not dropped in silence", async () => {
    await fill(keeper);
    const files = await unpacked(await keeper.backup());
    const kennel = JSON.parse(files["kennel.json"]!);
    const other = await freshKeeper();
    const dogless = await packed({ ...files, "kennel.json": JSON.stringify({ ...kennel, dogs: [] }) });
    const report = await other.restore(dogless, "merge");
    expect(report.notes.join()).toMatch(
      /Juniper, which is neither in the backup nor here; it was kept without a dog/,
    );
    expect(await other.sessions()).toMatchObject([{ dogId: null, dogName: "Juniper" }]);
    const third = await freshKeeper();
    const bare = await packed({ ...files, "kennel.json": JSON.stringify({ ...kennel, sessions: [] }) });
    expect((await third.restore(bare, "merge")).notes.join()).toMatch(/One clip belongs to a session/);
  });

  it("any damage whatever: either it is refused and nothing changes, or what comes in is sound", async () => {
    await fill(keeper);
    const file = new Uint8Array(await (await keeper.backup({ films: true })).arrayBuffer());
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.tuple(fc.nat(file.length - 1), fc.nat(255)), { minLength: 1, maxLength: 6 }),
        fc.option(fc.nat(file.length - 1), { nil: undefined, freq: 4 }),
        async (changes, cut) => {
          const bytes = file.slice(0, cut);
          for (const [at, value] of changes) if (at < bytes.length) bytes[at] = value;
          const other = await freshKeeper();
          const mine = await other.putDog(dogDraft({ name: "Biscuit", letters: "BI" }));
          const failure = await other.restore(new Blob([bytes]), "merge").then(
            () => null,
            (error: unknown) => error,
          );
          expect(await other.dog(mine.id)).toEqual(mine);
          if (failure) {
            expect(failure).toBeInstanceOf(KeeperError);
            expect((await everything(other)).dogs).toHaveLength(1);
          } else {
            // What was taken in must be able to go out and come back.
            await (await freshKeeper()).restore(await other.backup({ films: true }), "merge");
          }
        },
      ),
      { numRuns: 150 },
    );
  });

  it("any record whatever: it is refused, or it can be kept", async () => {
    const files = await (async () => {
      await fill(keeper);
      return unpacked(await keeper.backup());
    })();
    const kennel = JSON.parse(files["kennel.json"]!);
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom(...Object.keys(kennel.dogs[0]), "measures.withersM", "plan"),
        fc.oneof(fc.jsonValue({ maxDepth: 2 }), fc.constant(undefined)),
        async (field, value) => {
          const dog = structuredClone(kennel.dogs[0]);
          if (field === "measures.withersM") dog.measures.withersM = value;
          else dog[field] = value;
          const text = JSON.stringify({ ...kennel, dogs: [dog] });
          const other = await freshKeeper();
          const failure = await other.restore(await packed({ ...files, "kennel.json": text }), "merge").then(
            () => null,
            (error: unknown) => error,
          );
          if (failure) expect(failure).toMatchObject({ kind: "damaged-backup" });
          else expect((await other.dogs())[0]).toBeDefined();
        },
      ),
      { numRuns: 150 },
    );
  });
});

function indexOf(bytes: Uint8Array, part: Uint8Array): number {
  return bytes.findIndex((_, at) => part.every((byte, i) => bytes[at + i] === byte));
}
