import type { KennelDatabase } from "./database.ts";

/** A folder of files private to this site, outside the database: films are large, and a file need not be read whole. */
export interface FilmShelf {
  /** Writes a new file, all of it or nothing; rejects with the browser's error, or with that of the source. */
  write(file: string, source: ReadableStream<Uint8Array>, signal?: AbortSignal): Promise<void>;
  /** null when the file is not there (any more). */
  read(file: string): Promise<Blob | null>;
  /** Does nothing when the file is not there. */
  remove(file: string): Promise<void>;
  list(): Promise<string[]>;
}

/** The shelf of this browser; null where it has none that can be written from a page. */
export async function openFilmShelf(folder: string): Promise<FilmShelf | null> {
  if (typeof navigator === "undefined" || typeof FileSystemFileHandle === "undefined") return null;
  if (!("createWritable" in FileSystemFileHandle.prototype)) return null;
  try {
    const root = await navigator.storage.getDirectory();
    return new FolderShelf(await root.getDirectoryHandle(folder, { create: true }));
  } catch {
    // Private windows of some browsers have the interface but refuse it; films then go into the database.
    return null;
  }
}

class FolderShelf implements FilmShelf {
  constructor(private readonly folder: FileSystemDirectoryHandle) {}

  async write(file: string, source: ReadableStream<Uint8Array>, signal?: AbortSignal): Promise<void> {
    const handle = await this.folder.getFileHandle(file, { create: true });
    try {
      // Written beside the file and moved into place on close, so that a half-written film is never read.
      await source.pipeTo(await handle.createWritable(), signal ? { signal } : {});
    } catch (error) {
      await this.remove(file);
      throw error;
    }
  }

  async read(file: string): Promise<Blob | null> {
    try {
      return await (await this.folder.getFileHandle(file)).getFile();
    } catch (error) {
      if (isNotFound(error)) return null;
      throw error;
    }
  }

  async remove(file: string): Promise<void> {
    try {
      await this.folder.removeEntry(file);
    } catch (error) {
      if (!isNotFound(error)) throw error;
    }
  }

  async list(): Promise<string[]> {
    const names: string[] = [];
    for await (const name of this.folder.keys()) names.push(name);
    return names;
  }
}

/**
 * Runs `work`, which writes files to the shelf and then names them in the database, while no other window sweeps.
 */
export function whileWriting<T>(work: () => Promise<T>): Promise<T> {
  if (typeof navigator === "undefined" || !navigator.locks) return work();
  return navigator.locks.request(WRITING, { mode: "shared" }, work) as Promise<T>;
}

/** Removes files that no row knows, left by a page that was closed half-way; waits for nobody. */
export async function sweepShelf(shelf: FilmShelf, database: KennelDatabase): Promise<void> {
  await navigator.locks.request(WRITING, { ifAvailable: true }, async (lock) => {
    if (!lock) return;
    const known = new Set((await database.films.toArray()).map((row) => row.file));
    const orphans = (await shelf.list()).filter((file) => !known.has(file));
    await Promise.all(orphans.map((file) => shelf.remove(file)));
  });
}

const WRITING = "pawgap-films";

function isNotFound(error: unknown): boolean {
  return error instanceof DOMException && error.name === "NotFoundError";
}
