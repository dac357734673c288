import {
  BlobReader,
  configure,
  type FileEntry,
  TextReader,
  ZipReader,
  ZipWriter,
} from "@zip.js/zip.js/external";
import { z } from "zod";
import { asKeeperError } from "./failures.ts";
import { clipRecord, dogRecord, goneRecord, sessionRecord, settingsRecord } from "./records.ts";
import { type CopyProgress, type Gone, KeeperError, type KennelRecords, type Settings } from "./types.ts";

// A backup is a zip file: `kennel.json` holds the dogs, sessions, settings and what was deleted, `clips/<id>.json` what was measured
// in one clip, `films/<id>` the film itself. One file a clip keeps every text small enough for a phone to read.

configure({ useWebWorkers: false });

const KIND = "pawgap-kennel";
/** Raised when a reader of this program could no longer make sense of what a newer one writes. */
export const BACKUP_FORMAT = 1;

const KENNEL = "kennel.json";
const CLIP = /^clips\/([A-Za-z0-9_-]{1,64})\.json$/;
const FILM = /^films\/([A-Za-z0-9_-]{1,64})$/;

/** Far above what a busy practice gathers in years, far below what stalls a phone. */
const LIMITS = {
  dogs: 5000,
  sessions: 50_000,
  clips: 50_000,
  gone: 110_000,
  entries: 110_000,
  textBytes: 64 * 2 ** 20,
};

interface FilmSource {
  clipId: string;
  sizeBytes: number;
  open(): Promise<Blob | null>;
}

/** Writes a backup. A film that is gone when its turn comes is left out. */
export async function writeBackup(
  records: KennelRecords & { gone: Gone[]; settings: Settings },
  films: FilmSource[],
  onProgress?: (progress: CopyProgress) => void,
  signal?: AbortSignal,
): Promise<Blob> {
  const sink = new BlobSink();
  const zip = new ZipWriter(sink.writable, { level: 6, ...(signal && { signal }) });
  const bytesTotal = films.reduce((sum, film) => sum + film.sizeBytes, 0);
  let bytesBefore = 0;
  onProgress?.({ bytesDone: 0, bytesTotal });
  const { dogs, sessions, gone, settings } = records;
  const kennel = { kind: KIND, format: BACKUP_FORMAT, madeAt: Date.now(), dogs, sessions, gone, settings };
  await zip.add(KENNEL, new TextReader(toText(kennel)));
  for (const clip of records.clips) {
    await zip.add(`clips/${clip.id}.json`, new TextReader(toText(clip)));
  }
  for (const film of films) {
    const blob = await film.open();
    if (blob) {
      // Films are compressed already; stored as they are they can be read back without unpacking.
      await zip.add(`films/${film.clipId}`, new BlobReader(blob), {
        level: 0,
        onprogress: (done) => onProgress?.({ bytesDone: bytesBefore + done, bytesTotal }),
      });
    }
    bytesBefore += film.sizeBytes;
  }
  await zip.close();
  onProgress?.({ bytesDone: bytesTotal, bytesTotal });
  return sink.blob("application/zip");
}

/** A film inside a backup. */
export interface PackedFilm {
  sizeBytes: number;
  /** Its bytes; the stream fails with a KeeperError where they do not agree with their check sum. */
  stream(onBytes?: (done: number) => void, signal?: AbortSignal): ReadableStream<Uint8Array>;
}

export interface OpenedBackup extends KennelRecords {
  madeAt: number;
  /** What had been deleted on the device of the backup. */
  gone: Gone[];
  settings: Settings;
  /** By clip id. */
  films: Map<string, PackedFilm>;
}

/**
 * Reads and checks all of a backup but its films, and changes nothing.
 * @throws KeeperError "not-a-backup", "damaged-backup", "newer-backup", "too-large" or "cancelled"
 */
export async function openBackup(file: Blob, signal?: AbortSignal): Promise<OpenedBackup> {
  signal?.throwIfAborted();
  const entries = await entriesOf(file);
  const kennelEntry = entries.get(KENNEL);
  if (!kennelEntry) throw notABackup();
  const raw = await jsonOf(kennelEntry, signal);
  const head = z.looseObject({ kind: z.literal(KIND), format: z.number().int().gte(1) }).safeParse(raw);
  if (!head.success) throw notABackup();
  if (head.data.format > BACKUP_FORMAT) {
    throw new KeeperError(
      "newer-backup",
      "This backup was made by a newer version of this program. Reload the page to get the newer version and restore it again; nothing has been changed here.",
    );
  }
  const kennel = checked(kennelSchema, raw, KENNEL);
  const clips = [];
  const films = new Map<string, PackedFilm>();
  for (const [name, entry] of entries) {
    const clipId = CLIP.exec(name)?.[1];
    const filmId = FILM.exec(name)?.[1];
    if (clipId) {
      if (clips.length >= LIMITS.clips) throw tooLarge();
      const clip = checked(clipRecord, await jsonOf(entry, signal), name);
      if (clip.id !== clipId) throw damaged(`${name} names another clip`);
      clips.push(clip);
    } else if (filmId) {
      films.set(filmId, packedFilm(entry));
    }
  }
  for (const list of [kennel.dogs, kennel.sessions, clips]) refuseTwins(list);
  clips.sort((a, b) => a.addedAt - b.addedAt);
  return { ...kennel, clips, films };
}

const kennelSchema = z.looseObject({
  madeAt: z.number().gte(0).lte(8.64e15),
  dogs: z.array(dogRecord).max(LIMITS.dogs),
  sessions: z.array(sessionRecord).max(LIMITS.sessions),
  // Backups made before deletions were remembered have none.
  gone: z.array(goneRecord).max(LIMITS.gone).default([]),
  settings: settingsRecord,
});

async function entriesOf(file: Blob): Promise<Map<string, FileEntry>> {
  const found = new Map<string, FileEntry>();
  let seen = 0;
  try {
    // Names that lead out of the file are refused here; beyond that no name is ever used as a path.
    for await (const entry of new ZipReader(new BlobReader(file)).getEntriesGenerator()) {
      if (++seen > LIMITS.entries) throw tooLarge();
      if (!entry.directory && !entry.encrypted) found.set(entry.filename, entry);
    }
  } catch (error) {
    if (error instanceof KeeperError) throw error;
    throw (await looksLikeZip(file))
      ? damaged("its list of contents cannot be read", error)
      : notABackup(error);
  }
  return found;
}

async function looksLikeZip(file: Blob): Promise<boolean> {
  const start = new Uint8Array(await file.slice(0, 4).arrayBuffer());
  return start[0] === 0x50 && start[1] === 0x4b && start[2] === 0x03 && start[3] === 0x04;
}

async function jsonOf(entry: FileEntry, signal?: AbortSignal): Promise<unknown> {
  if (entry.uncompressedSize > LIMITS.textBytes) throw tooLarge();
  const sink = new BlobSink(LIMITS.textBytes);
  try {
    await entry.getData(sink.writable, { checkCrc32: true, ...(signal && { signal }) });
    return fromText(await sink.blob("application/json").text());
  } catch (error) {
    signal?.throwIfAborted();
    if (error instanceof KeeperError) throw error;
    throw damaged(`${entry.filename} cannot be read`, error);
  }
}

function packedFilm(entry: FileEntry): PackedFilm {
  return {
    sizeBytes: entry.uncompressedSize,
    stream(onBytes, signal) {
      let done = 0;
      const pipe = new TransformStream<Uint8Array, Uint8Array>({
        transform(chunk, controller) {
          done += chunk.byteLength;
          if (done > entry.uncompressedSize) throw damaged(`${entry.filename} is longer than it says`);
          onBytes?.(done);
          controller.enqueue(chunk);
        },
      });
      const writable = pipe.writable;
      // The stream is closed only after the check sum has been compared, so that a damaged film never looks whole.
      entry
        .getData(writable, { checkCrc32: true, preventClose: true, ...(signal && { signal }) })
        .then(() => writable.close())
        .catch((error: unknown) =>
          writable.abort(
            signal?.aborted ? signal.reason : damaged(`${entry.filename} cannot be read`, error),
          ),
        )
        .catch(() => {});
      return pipe.readable;
    },
  };
}

/** Gathers written bytes into a blob piece by piece; browsers move large blobs out of memory. */
class BlobSink {
  private readonly parts: Blob[] = [];
  private pending: Uint8Array<ArrayBuffer>[] = [];
  private pendingBytes = 0;
  private bytes = 0;

  readonly writable = new WritableStream<Uint8Array>({
    write: (chunk) => {
      this.bytes += chunk.byteLength;
      if (this.bytes > this.limitBytes) throw tooLarge();
      this.pending.push(chunk.slice());
      this.pendingBytes += chunk.byteLength;
      if (this.pendingBytes >= 8 * 2 ** 20) this.fold();
    },
  });

  constructor(private readonly limitBytes = Number.POSITIVE_INFINITY) {}

  blob(type: string): Blob {
    this.fold();
    return new Blob(this.parts, { type });
  }

  private fold(): void {
    this.parts.push(new Blob(this.pending));
    this.pending = [];
    this.pendingBytes = 0;
  }
}

/** JSON knows no NaN and no infinity; an open interval must come back as it went. */
function toText(value: unknown): string {
  return JSON.stringify(value, (_key, field: unknown) =>
    typeof field === "number" && !Number.isFinite(field) ? { [ODD_NUMBER]: String(field) } : field,
  );
}

function fromText(source: string): unknown {
  return JSON.parse(source, (key, field: unknown) => {
    if (key === "__proto__") return undefined;
    if (typeof field === "object" && field !== null && ODD_NUMBER in field) return Number(field[ODD_NUMBER]);
    return field;
  });
}

const ODD_NUMBER = "not-finite";

function checked<T>(schema: z.ZodType<T>, value: unknown, file: string): T {
  const result = schema.safeParse(value);
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  throw damaged(`${file}: ${issue?.path.join(".") ?? ""} ${issue?.message ?? ""}`.trim(), result.error);
}

function refuseTwins(records: { id: string }[]): void {
  if (new Set(records.map((record) => record.id)).size !== records.length) {
    throw damaged("two records have the same id");
  }
}

function notABackup(cause?: unknown): KeeperError {
  return new KeeperError(
    "not-a-backup",
    "This file is not a backup made by this program. Choose the .zip file that Backup gave you; nothing has been changed here.",
    { cause },
  );
}

function damaged(what: string, cause?: unknown): KeeperError {
  if (cause !== undefined && asKeeperError(cause).kind === "cancelled") return asKeeperError(cause);
  return new KeeperError(
    "damaged-backup",
    `This backup is damaged (${what.slice(0, 200)}). Copy it again from where you keep it, or use an older one; nothing has been changed here.`,
    { cause },
  );
}

function tooLarge(): KeeperError {
  return new KeeperError(
    "too-large",
    "This backup holds more than this program ever writes, so it was not opened. Choose another file; nothing has been changed here.",
  );
}
