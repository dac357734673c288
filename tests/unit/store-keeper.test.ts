import "fake-indexeddb/auto";
import { Dexie } from "dexie";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { judge } from "../../src/spacing/judge.ts";
import { openKeeper } from "../../src/store/open.ts";
import { type Keeper, KeeperError } from "../../src/store/types.ts";
import { ordinary, simulateSession } from "../simulated-sessions.ts";
import { clipDraft, dogDraft, sessionDraft, someAnalysis, somePass } from "./store-records.ts";

let name = "";
let keeper: Keeper;

beforeEach(async () => {
  name = `kennel-${Math.random()}`;
  keeper = await openKeeper(name);
});

afterEach(async () => {
  keeper.close();
  await Dexie.delete(name);
});

describe("what is kept", () => {
  it("gives an id and times, lists dogs by name, and is there after the page was closed", async () => {
    const otto = await keeper.putDog(dogDraft({ name: "Otto", letters: "OT" }));
    await keeper.putDog(dogDraft({ name: "Biscuit", letters: "BI" }));
    expect(otto.id).toMatch(/^[0-9a-f]{32}$/);
    expect(otto.addedAt).toBe(otto.changedAt);
    keeper.close();
    keeper = await openKeeper(name);
    expect((await keeper.dogs()).map((dog) => dog.name)).toEqual(["Biscuit", "Otto"]);
    expect(await keeper.dog(otto.id)).toEqual(otto);
  });

  it("changes only the fields named, so that two hands don't undo each other's work", async () => {
    const dog = await keeper.putDog(dogDraft());
    await Promise.all([
      keeper.changeDog(dog.id, { notes: "Shy of the third pole" }),
      keeper.changeDog(dog.id, { aim: "careful-feet" }),
    ]);
    expect(await keeper.dog(dog.id)).toMatchObject({ notes: "Shy of the third pole", aim: "careful-feet" });
    expect(await keeper.changeDog("nobody", { notes: "x" })).toBeUndefined();
  });

  it("lists sessions newest first, of one dog or of all, and clips as they were added", async () => {
    const dog = await keeper.putDog(dogDraft());
    const monday = await keeper.putSession(sessionDraft(dog.id, { date: 1000 }));
    const friday = await keeper.putSession(sessionDraft(dog.id, { date: 5000 }));
    const stray = await keeper.putSession(sessionDraft(null, { date: 3000 }));
    expect((await keeper.sessions()).map((s) => s.id)).toEqual([friday.id, stray.id, monday.id]);
    expect((await keeper.sessions(dog.id)).map((s) => s.id)).toEqual([friday.id, monday.id]);
    const first = await keeper.putClip(clipDraft(monday.id, { addedAt: 1 }));
    const second = await keeper.putClip(clipDraft(monday.id, { addedAt: 2 }));
    expect((await keeper.clips(monday.id)).map((c) => c.id)).toEqual([first.id, second.id]);
  });

  it("keeps an analysis as it is, missing numbers and all", async () => {
    const session = await keeper.putSession(sessionDraft(null));
    const clip = await keeper.putClip(
      clipDraft(session.id, { analysis: someAnalysis, editedPasses: [somePass] }),
    );
    expect((await keeper.clip(clip.id))?.analysis).toEqual(someAnalysis);
  });

  it("refuses in a sentence what could not come back from a backup", async () => {
    await expect(keeper.putDog(dogDraft({ letters: "JUNI" }))).rejects.toThrow(/dog cannot be kept.*letters/);
    const tooDeep = { gapsM: [0.4], heightsM: [0], targetFractions: [0.5] };
    await expect(keeper.putSession(sessionDraft(null, { layout: tooDeep }))).rejects.toThrow(KeeperError);
    expect(await keeper.dogs()).toEqual([]);
  });

  it("keeps settings field by field and starts with sensible ones", async () => {
    expect(await keeper.settings()).toMatchObject({ units: "cm", practitioner: "" });
    await keeper.putSettings({ units: "in" });
    await keeper.putSettings({ practitioner: "R. Hale" });
    expect(await keeper.settings()).toMatchObject({ units: "in", practitioner: "R. Hale" });
  });
});

describe("films", () => {
  it("are kept, replaced, read back with their type, and freed without losing what was measured", async () => {
    const session = await keeper.putSession(sessionDraft(null));
    const clip = await keeper.putClip(clipDraft(session.id, { analysis: someAnalysis }));
    expect(await keeper.getClipBlob(clip.id)).toBeNull();
    await keeper.putClipBlob(clip.id, new Blob(["first film"], { type: "video/mp4" }));
    await keeper.putClipBlob(clip.id, new Blob(["second film!"], { type: "video/quicktime" }));
    const film = await keeper.getClipBlob(clip.id);
    expect(await film?.text()).toBe("second film!");
    expect(film?.type).toBe("video/quicktime");
    expect(await keeper.clip(clip.id)).toMatchObject({ filmKept: true, sizeBytes: 12 });
    expect(await keeper.storage()).toMatchObject({ films: 1, filmBytes: 12 });
    await keeper.deleteClipBlob(clip.id);
    expect(await keeper.getClipBlob(clip.id)).toBeNull();
    expect(await keeper.clip(clip.id)).toMatchObject({ filmKept: false, analysis: someAnalysis });
  });

  it("know better than a stale screen whether they are there", async () => {
    const session = await keeper.putSession(sessionDraft(null));
    const stale = await keeper.putClip(clipDraft(session.id));
    await keeper.putClipBlob(stale.id, new Blob(["film"]));
    await keeper.putClip({ ...stale, range: [1, 2] });
    expect(await keeper.clip(stale.id)).toMatchObject({ filmKept: true, range: [1, 2] });
  });

  it("can be stopped on the way", async () => {
    const session = await keeper.putSession(sessionDraft(null));
    const clip = await keeper.putClip(clipDraft(session.id));
    const stop = new AbortController();
    stop.abort();
    const kept = keeper.putClipBlob(clip.id, new Blob(["film"]), undefined, stop.signal);
    await expect(kept).rejects.toMatchObject({ kind: "cancelled" });
    expect(await keeper.storage()).toMatchObject({ films: 0 });
  });
});

describe("delete means delete", () => {
  async function oneOfEach() {
    const dog = await keeper.putDog(dogDraft());
    const session = await keeper.putSession(sessionDraft(dog.id));
    const clip = await keeper.putClip(clipDraft(session.id));
    await keeper.putClipBlob(clip.id, new Blob(["film"]));
    return { dog, session, clip };
  }

  it("takes a session's clips and films with it", async () => {
    const { session, clip } = await oneOfEach();
    await keeper.deleteSession(session.id);
    expect(await keeper.clip(clip.id)).toBeUndefined();
    expect(await keeper.getClipBlob(clip.id)).toBeNull();
    expect(await keeper.storage()).toMatchObject({ films: 0 });
  });

  it("leaves the sessions of a removed dog, under its name, unless they are to go too", async () => {
    const { dog, session, clip } = await oneOfEach();
    await keeper.deleteDog(dog.id);
    expect(await keeper.session(session.id)).toMatchObject({ dogId: null, dogName: "Juniper" });
    expect(await keeper.clip(clip.id)).toBeDefined();
    const again = await oneOfEach();
    await keeper.deleteDog(again.dog.id, true);
    expect(await keeper.session(again.session.id)).toBeUndefined();
    expect(await keeper.clip(again.clip.id)).toBeUndefined();
  });

  it("takes out the examples and nothing else", async () => {
    const mine = await oneOfEach();
    const theirs = await keeper.putDog(dogDraft({ name: "Wren", letters: "WR", example: true }));
    const exampleSession = await keeper.putSession(sessionDraft(theirs.id, { example: true }));
    const ownOverExample = await keeper.putSession(sessionDraft(theirs.id));
    await keeper.removeExamples();
    expect((await keeper.dogs()).map((dog) => dog.id)).toEqual([mine.dog.id]);
    expect(await keeper.session(exampleSession.id)).toBeUndefined();
    expect(await keeper.session(ownOverExample.id)).toMatchObject({ dogId: null });
  });

  it("leaves nothing after everything was deleted", async () => {
    await oneOfEach();
    await keeper.putSettings({ practitioner: "R. Hale" });
    await keeper.deleteEverything();
    expect([await keeper.dogs(), await keeper.sessions()]).toEqual([[], []]);
    expect(await keeper.settings()).toMatchObject({ practitioner: "" });
    expect(await keeper.storage()).toMatchObject({ films: 0 });
  });
});

describe("watching", () => {
  it("calls back at once and after each change, until it is ended", async () => {
    const seen: string[][] = [];
    const end = keeper.watch(
      async (from) => (await from.dogs()).map((dog) => dog.name),
      (names) => seen.push(names),
    );
    await vi.waitFor(() => expect(seen).toEqual([[]]));
    await keeper.putDog(dogDraft());
    await vi.waitFor(() => expect(seen.at(-1)).toEqual(["Juniper"]));
    end();
    await keeper.putDog(dogDraft({ name: "Otto" }));
    await new Promise((resolve) => setTimeout(resolve, 50));
    expect(seen.at(-1)).toEqual(["Juniper"]);
  });
});

describe("a device that comes from an earlier version of the program", () => {
  it("keeps everything, and loses the verdicts that took marks on bare ground for poles", async () => {
    const judgement = judge(simulateSession(ordinary, 4).request);
    const old = `kennel-${Math.random()}`;
    const first = new Dexie(old);
    // The tables of version 1, as they were.
    first.version(1).stores({
      dogs: "id, name",
      sessions: "id, dogId, date",
      clips: "id, sessionId",
      films: "clipId",
      settings: "id",
    });
    const stamps = { addedAt: 1, changedAt: 1 };
    const dog = { ...dogDraft(), ...stamps, id: "d1" };
    const overPoles = { ...sessionDraft("d1"), ...stamps, id: "s1", judgement };
    const bare = { ...sessionDraft("d1"), ...stamps, id: "s2", bareGround: true, judgement };
    const clip = {
      ...clipDraft("s1", { analysis: someAnalysis, editedPasses: [somePass] }),
      ...stamps,
      id: "c1",
    };
    await first.table("dogs").add(dog);
    await first.table("sessions").bulkAdd([overPoles, bare]);
    await first.table("clips").add({ ...clip, filmKept: true });
    const film = {
      clipId: "c1",
      file: null,
      film: new Blob(["film"]),
      sizeBytes: 4,
      mimeType: "",
      example: false,
    };
    await first.table("films").add(film);
    await first.table("settings").add({ id: "settings", units: "in", practitioner: "R. Hale", changedAt: 1 });
    first.close();

    const now = await openKeeper(old);
    expect(await now.dog("d1")).toEqual(dog);
    expect(await now.session("s1")).toEqual(overPoles);
    expect(await now.session("s2")).toEqual({ ...bare, judgement: null });
    expect(await now.clip("c1")).toEqual({ ...clip, filmKept: true });
    expect(await (await now.getClipBlob("c1"))?.text()).toBe("film");
    expect(await now.settings()).toMatchObject({ units: "in", practitioner: "R. Hale", keepFilms: true });
    // What is new in this version works on it.
    const file = await now.backup();
    await now.deleteDog("d1", true);
    expect((await now.restore(file, "merge")).dogsAdded).toBe(0);
    now.close();
    await Dexie.delete(old);
  });
});

describe("a browser that won't", () => {
  it("keeps things in memory and says so when there is no storage", async () => {
    const blocked = vi.spyOn(indexedDB, "open").mockImplementation(() => {
      throw new DOMException("The operation is insecure.", "SecurityError");
    });
    const forgetful = await openKeeper("blocked");
    blocked.mockRestore();
    expect(forgetful.lasting).toBe(false);
    await forgetful.putDog(dogDraft());
    expect(await forgetful.dogs()).toHaveLength(1);
    expect(await forgetful.storage()).toMatchObject({ usedBytes: null, persistent: false });
    forgetful.close();
  });

  it("does not touch data of a newer version of the program", async () => {
    keeper.close();
    const newer = new Dexie(name);
    newer.version(99).stores({ dogs: "id", extra: "id" });
    await newer.open();
    newer.close();
    await expect(openKeeper(name)).rejects.toMatchObject({
      kind: "newer-database",
      message: expect.stringMatching(/newer version.*Reload/),
    });
  });

  it("says that the device is full, and keeps what was there", async () => {
    const dog = await keeper.putDog(dogDraft());
    const put = vi.spyOn(IDBObjectStore.prototype, "put").mockImplementation(() => {
      throw new DOMException("Quota exceeded.", "QuotaExceededError");
    });
    await expect(keeper.changeDog(dog.id, { notes: "long" })).rejects.toMatchObject({
      kind: "full",
      message: expect.stringMatching(/no room left/),
    });
    put.mockRestore();
    expect(await keeper.dog(dog.id)).toEqual(dog);
  });
});
