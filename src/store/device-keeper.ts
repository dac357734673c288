import { liveQuery, type Table } from "dexie";
import type { z } from "zod";
import type { OpenedBackup } from "./backup.ts";
import type { FilmRow, KennelDatabase } from "./database.ts";
import { asKeeperError, withSentences } from "./failures.ts";
import { type FilmShelf, whileWriting } from "./films.ts";
import { freshId } from "./ids.ts";
import { clipRecord, dogRecord, sessionRecord, settingsRecord } from "./records.ts";
import { takeIn } from "./restore.ts";
import {
  type Change,
  type ClipRecord,
  type CopyProgress,
  type Dog,
  type Draft,
  type Gone,
  type Keeper,
  KeeperError,
  type KennelRecords,
  type Kept,
  type RestoreMode,
  type RestoreReport,
  type Session,
  type Settings,
  type StorageReport,
} from "./types.ts";
import { clearWork } from "./work.ts";

export const DEFAULT_SETTINGS: Settings = {
  units: "cm",
  practitioner: "",
  practice: "",
  logo: null,
  keepFilms: true,
  lastBackupAt: null,
  changedAt: 0,
};

export class DeviceKeeper implements Keeper {
  constructor(
    private readonly database: KennelDatabase,
    private readonly shelf: FilmShelf | null,
    readonly lasting: boolean,
  ) {}

  dogs(): Promise<Dog[]> {
    return withSentences(async () => {
      const dogs = await this.database.dogs.toArray();
      return dogs.sort((a, b) => a.name.localeCompare(b.name));
    });
  }

  dog(id: string): Promise<Dog | undefined> {
    return withSentences(() => this.database.dogs.get(id));
  }

  putDog(dog: Draft<Dog>): Promise<Dog> {
    return withSentences(async () => {
      const whole = checked(dogRecord, stamped<Dog>(dog), "dog");
      await this.database.dogs.put(whole);
      return whole;
    });
  }

  changeDog(id: string, change: Change<Dog>): Promise<Dog | undefined> {
    return this.changeIn(this.database.dogs, dogRecord, "dog", id, change);
  }

  deleteDog(id: string, withSessions = false): Promise<void> {
    const { dogs, sessions, clips, films, gone } = this.database;
    return withSentences(async () => {
      const freed = await this.database.transaction("rw", [dogs, sessions, clips, films, gone], async () => {
        const own = sessions.where("dogId").equals(id);
        const rows = withSessions ? await this.dropSessions(await own.primaryKeys()) : [];
        const name = (await dogs.get(id))?.name;
        await sessions
          .where("dogId")
          .equals(id)
          .modify((session) => {
            session.dogId = null;
            if (name) session.dogName = name;
            session.changedAt = Date.now();
          });
        await dogs.delete(id);
        await this.remember("dog", name === undefined ? [] : [id]);
        return rows;
      });
      await this.removeFiles(freed);
    });
  }

  sessions(dogId?: string): Promise<Session[]> {
    const { sessions } = this.database;
    return withSentences(async () => {
      const found = await (dogId === undefined ? sessions : sessions.where("dogId").equals(dogId)).toArray();
      return found.sort((a, b) => b.date - a.date || b.addedAt - a.addedAt);
    });
  }

  session(id: string): Promise<Session | undefined> {
    return withSentences(() => this.database.sessions.get(id));
  }

  putSession(session: Draft<Session>): Promise<Session> {
    return withSentences(async () => {
      const whole = checked(sessionRecord, stamped<Session>(session), "session");
      await this.database.sessions.put(whole);
      return whole;
    });
  }

  changeSession(id: string, change: Change<Session>): Promise<Session | undefined> {
    return this.changeIn(this.database.sessions, sessionRecord, "session", id, change);
  }

  deleteSession(id: string): Promise<void> {
    const { sessions, clips, films, gone } = this.database;
    return withSentences(async () => {
      const freed = await this.database.transaction("rw", [sessions, clips, films, gone], () =>
        this.dropSessions([id]),
      );
      await this.removeFiles(freed);
    });
  }

  clips(sessionId: string): Promise<ClipRecord[]> {
    return withSentences(async () => {
      const found = await this.database.clips.where("sessionId").equals(sessionId).toArray();
      return found.sort((a, b) => a.addedAt - b.addedAt);
    });
  }

  clip(id: string): Promise<ClipRecord | undefined> {
    return withSentences(() => this.database.clips.get(id));
  }

  putClip(clip: Draft<ClipRecord>): Promise<ClipRecord> {
    const { clips, films } = this.database;
    return withSentences(() =>
      this.database.transaction("rw", [clips, films], async () => {
        const whole = checked(clipRecord, stamped<ClipRecord>(clip), "clip");
        // Whether the film is here is known best here.
        whole.filmKept = (await films.where("clipId").equals(whole.id).count()) > 0;
        await clips.put(whole);
        return whole;
      }),
    );
  }

  changeClip(id: string, change: Change<ClipRecord>): Promise<ClipRecord | undefined> {
    return this.changeIn(this.database.clips, clipRecord, "clip", id, change);
  }

  deleteClip(id: string): Promise<void> {
    const { clips, films, gone } = this.database;
    return withSentences(async () => {
      const freed = await this.database.transaction("rw", [clips, films, gone], () => this.dropClips([id]));
      await this.removeFiles(freed);
    });
  }

  putClipBlob(
    clipId: string,
    film: Blob,
    onProgress?: (progress: CopyProgress) => void,
    signal?: AbortSignal,
  ): Promise<void> {
    const { clips, films } = this.database;
    return withSentences(() =>
      whileWriting(async () => {
        const row = await this.place(
          { clipId, sizeBytes: film.size, mimeType: film.type, example: false },
          () => film.stream().pipeThrough(counting(film.size, onProgress)),
          async () => film,
          signal,
        );
        const replaced = await this.orUndo(row, () =>
          this.database.transaction("rw", [clips, films], async () => {
            const clip = await clips.get(clipId);
            if (!clip) throw new KeeperError("failed", "The clip was deleted while its film was being kept.");
            const before = await films.get(clipId);
            await films.put({ ...row, example: clip.example ?? false });
            await clips.update(clipId, {
              filmKept: true,
              sizeBytes: film.size,
              mimeType: film.type,
              changedAt: Date.now(),
            });
            return before ? [before] : [];
          }),
        );
        await this.removeFiles(replaced);
      }),
    );
  }

  getClipBlob(clipId: string): Promise<Blob | null> {
    return withSentences(async () => {
      const row = await this.database.films.get(clipId);
      const film = row ? await this.filmOf(row) : null;
      if (row && !film) await this.deleteClipBlob(clipId);
      return film;
    });
  }

  deleteClipBlob(clipId: string): Promise<void> {
    const { clips, films } = this.database;
    return withSentences(async () => {
      const freed = await this.database.transaction("rw", [clips, films], async () => {
        const row = await films.get(clipId);
        await films.delete(clipId);
        await clips.update(clipId, { filmKept: false, changedAt: Date.now() });
        return row ? [row] : [];
      });
      await this.removeFiles(freed);
    });
  }

  settings(): Promise<Settings> {
    return withSentences(async () => {
      const row = await this.database.settings.get("settings");
      if (!row) return { ...DEFAULT_SETTINGS };
      const { id: _, ...settings } = row;
      return { ...DEFAULT_SETTINGS, ...settings };
    });
  }

  putSettings(change: Partial<Settings>): Promise<Settings> {
    const table = this.database.settings;
    return withSentences(() =>
      this.database.transaction("rw", [table], async () => {
        const settings = { ...(await this.settings()), ...change, changedAt: Date.now() };
        checked(settingsRecord, settings, "settings");
        await table.put({ ...settings, id: "settings" });
        return settings;
      }),
    );
  }

  watch<T>(
    read: (keeper: Keeper) => Promise<T>,
    onValue: (value: T) => void,
    onError?: (error: Error) => void,
  ): () => void {
    const subscription = liveQuery(() => read(this)).subscribe({
      next: onValue,
      error: (error) => onError?.(asKeeperError(error)),
    });
    return () => subscription.unsubscribe();
  }

  storage(): Promise<StorageReport> {
    return withSentences(async () => {
      const rows = await this.database.films.toArray();
      const estimate = this.lasting ? await globalThis.navigator?.storage?.estimate?.() : undefined;
      return {
        usedBytes: estimate?.usage ?? null,
        quotaBytes: estimate?.quota ?? null,
        filmBytes: rows.reduce((sum, row) => sum + row.sizeBytes, 0),
        films: rows.length,
        persistent: this.lasting && ((await globalThis.navigator?.storage?.persisted?.()) ?? false),
      };
    });
  }

  async requestPersistence(): Promise<boolean> {
    if (!this.lasting) return false;
    return (await globalThis.navigator?.storage?.persist?.()) ?? false;
  }

  backup(
    options: {
      films?: boolean | undefined;
      onProgress?: ((progress: CopyProgress) => void) | undefined;
      signal?: AbortSignal | undefined;
    } = {},
  ): Promise<Blob> {
    const { dogs, sessions, clips, films, gone } = this.database;
    return withSentences(async () => {
      const [records, settings, rows] = await this.database.transaction(
        "r",
        [dogs, sessions, clips, films, gone, this.database.settings],
        async () =>
          [
            {
              dogs: await dogs.toArray(),
              sessions: await sessions.toArray(),
              clips: await clips.toArray(),
              gone: await gone.toArray(),
            },
            await this.settings(),
            options.films ? await films.toArray() : [],
          ] as const,
      );
      const { writeBackup } = await import("./backup.ts");
      const file = await writeBackup(
        { ...records, settings },
        rows.map((row) => ({
          clipId: row.clipId,
          sizeBytes: row.sizeBytes,
          open: () => this.filmOf(row),
        })),
        options.onProgress,
        options.signal,
      );
      await this.putSettings({ lastBackupAt: Date.now() });
      return file;
    });
  }

  restore(
    file: Blob,
    mode: RestoreMode,
    options: {
      onProgress?: ((progress: CopyProgress) => void) | undefined;
      signal?: AbortSignal | undefined;
    } = {},
  ): Promise<RestoreReport> {
    return withSentences(async () => {
      const { openBackup } = await import("./backup.ts");
      const backup = await openBackup(file, options.signal);
      await this.refuseIfFull(backup);
      return whileWriting(async () => {
        const placed = await this.placeFilms(backup, mode, options);
        return this.orUndo(placed, async () => {
          const { report, freed } = await takeIn(this.database, backup, placed, mode);
          await this.removeFiles(freed);
          if (mode === "replace") await clearWork();
          return report;
        });
      });
    });
  }

  putMany(records: Partial<KennelRecords>): Promise<void> {
    const { dogs, sessions, clips } = this.database;
    return withSentences(() =>
      this.database.transaction("rw", [dogs, sessions, clips], async () => {
        await dogs.bulkPut((records.dogs ?? []).map((dog) => checked(dogRecord, dog, "dog")));
        await sessions.bulkPut((records.sessions ?? []).map((one) => checked(sessionRecord, one, "session")));
        await clips.bulkPut((records.clips ?? []).map((clip) => checked(clipRecord, clip, "clip")));
      }),
    );
  }

  removeExamples(): Promise<void> {
    const { dogs, sessions, clips, films, gone } = this.database;
    return withSentences(async () => {
      const freed = await this.database.transaction("rw", [dogs, sessions, clips, films, gone], async () => {
        const isExample = (record: Kept) => record.example === true;
        const rows = await this.dropSessions(await sessions.filter(isExample).primaryKeys());
        const strays = await this.dropClips(await clips.filter(isExample).primaryKeys());
        const exampleDogs = await dogs.filter(isExample).primaryKeys();
        await dogs.bulkDelete(exampleDogs);
        await this.remember("dog", exampleDogs);
        // A real session noted for an example dog stays, without the dog.
        await sessions.where("dogId").anyOf(exampleDogs).modify({ dogId: null });
        return [...rows, ...strays];
      });
      await this.removeFiles(freed);
    });
  }

  deleteEverything(): Promise<void> {
    return withSentences(async () => {
      await this.database.transaction("rw", this.database.tables, () =>
        Promise.all(this.database.tables.map((table) => table.clear())),
      );
      for (const file of (await this.shelf?.list()) ?? []) await this.shelf?.remove(file);
      await clearWork();
    });
  }

  close(): void {
    this.database.close();
  }

  private changeIn<T extends Kept>(
    table: Table<T, string>,
    schema: z.ZodType<T>,
    what: string,
    id: string,
    change: Change<T>,
  ): Promise<T | undefined> {
    return withSentences(() =>
      this.database.transaction("rw", [table], async () => {
        const before = await table.get(id);
        if (!before) return undefined;
        const after = checked(schema, { ...before, ...change, id, changedAt: Date.now() }, what);
        await table.put(after);
        return after;
      }),
    );
  }

  /** Inside a transaction; gives the rows whose files are to be removed after it. */
  private async dropSessions(ids: string[]): Promise<FilmRow[]> {
    const clipIds = await this.database.clips.where("sessionId").anyOf(ids).primaryKeys();
    await this.remember("session", await this.database.sessions.where("id").anyOf(ids).primaryKeys());
    await this.database.sessions.bulkDelete(ids);
    return this.dropClips(clipIds);
  }

  private async dropClips(ids: string[]): Promise<FilmRow[]> {
    const rows = await this.database.films.where("clipId").anyOf(ids).toArray();
    await this.database.films.bulkDelete(ids);
    await this.remember("clip", await this.database.clips.where("id").anyOf(ids).primaryKeys());
    await this.database.clips.bulkDelete(ids);
    return rows;
  }

  /** Inside a transaction: that these were deleted, and when. */
  private async remember(kind: Gone["kind"], ids: string[]): Promise<void> {
    const at = Date.now();
    await this.database.gone.bulkPut(ids.map((id) => ({ id, kind, at })));
  }

  private async removeFiles(rows: FilmRow[]): Promise<void> {
    for (const row of rows) if (row.file) await this.shelf?.remove(row.file);
  }

  private async filmOf(row: FilmRow): Promise<Blob | null> {
    if (row.film) return row.film;
    const file = row.file ? ((await this.shelf?.read(row.file)) ?? null) : null;
    // Files carry no type of their own, and a player wants one.
    return file && row.mimeType ? file.slice(0, file.size, row.mimeType) : file;
  }

  private async place(
    row: Omit<FilmRow, "file" | "film">,
    open: () => ReadableStream<Uint8Array>,
    whole: () => Promise<Blob>,
    signal?: AbortSignal,
  ): Promise<FilmRow> {
    signal?.throwIfAborted();
    if (!this.shelf) return { ...row, file: null, film: await whole() };
    const file = freshId();
    await this.shelf.write(file, open(), signal);
    return { ...row, file, film: null };
  }

  /** Removes the files just placed when `work` fails, so that a failure leaves nothing behind. */
  private async orUndo<T>(placed: FilmRow | FilmRow[], work: () => Promise<T>): Promise<T> {
    try {
      return await work();
    } catch (error) {
      await this.removeFiles([placed].flat());
      throw error;
    }
  }

  private async refuseIfFull(backup: OpenedBackup): Promise<void> {
    const wanted = [...backup.films.values()].reduce((sum, film) => sum + film.sizeBytes, 0);
    const { usedBytes, quotaBytes } = await this.storage();
    if (usedBytes === null || quotaBytes === null || usedBytes + wanted < quotaBytes) return;
    throw new KeeperError(
      "full",
      "The films in this backup do not fit on this device. Free films under Settings, or restore a backup made without films; nothing has been changed here.",
    );
  }

  private async placeFilms(
    backup: OpenedBackup,
    mode: RestoreMode,
    options: { onProgress?: ((p: CopyProgress) => void) | undefined; signal?: AbortSignal | undefined },
  ): Promise<FilmRow[]> {
    const here = new Set(mode === "merge" ? await this.database.films.toCollection().primaryKeys() : []);
    const wanted = backup.clips.flatMap((clip) => {
      const film = backup.films.get(clip.id);
      return film && !here.has(clip.id) ? [{ clip, film }] : [];
    });
    const bytesTotal = wanted.reduce((sum, { film }) => sum + film.sizeBytes, 0);
    let bytesBefore = 0;
    const placed: FilmRow[] = [];
    try {
      for (const { clip, film } of wanted) {
        const before = bytesBefore;
        const open = () =>
          film.stream(
            (done) => options.onProgress?.({ bytesDone: before + done, bytesTotal }),
            options.signal,
          );
        const facts = {
          clipId: clip.id,
          sizeBytes: film.sizeBytes,
          mimeType: clip.mimeType,
          example: clip.example ?? false,
        };
        placed.push(await this.place(facts, open, () => gathered(open(), clip.mimeType), options.signal));
        bytesBefore += film.sizeBytes;
      }
      return placed;
    } catch (error) {
      await this.removeFiles(placed);
      throw error;
    }
  }
}

function stamped<T extends Kept>(draft: Draft<T>): T {
  const now = Date.now();
  return { ...draft, id: draft.id ?? freshId(), addedAt: draft.addedAt ?? now, changedAt: now } as T;
}

/** Whatever is kept must be able to come back from a backup, so it is held to the same rules. */
function checked<T>(schema: z.ZodType<T>, record: T, what: string): T {
  const result = schema.safeParse(record);
  if (result.success) return record;
  const issue = result.error.issues[0];
  throw new KeeperError(
    "failed",
    `This ${what} cannot be kept as it is (${issue?.path.join(".")}: ${issue?.message}). Change that and try again; what was kept before is still there.`,
  );
}

function counting(bytesTotal: number, onProgress?: (p: CopyProgress) => void) {
  let bytesDone = 0;
  return new TransformStream<Uint8Array, Uint8Array>({
    transform(chunk, controller) {
      bytesDone += chunk.byteLength;
      onProgress?.({ bytesDone, bytesTotal });
      controller.enqueue(chunk);
    },
  });
}

async function gathered(stream: ReadableStream<Uint8Array>, type: string): Promise<Blob> {
  const blob = await new Response(stream as ReadableStream<Uint8Array<ArrayBuffer>>).blob();
  return blob.slice(0, blob.size, type);
}
