import { Dexie, type Table } from "dexie";
import type { ClipRecord, Dog, Gone, Session, Settings } from "./types.ts";

/** Where the film of a clip lies. */
export interface FilmRow {
  clipId: string;
  /** Name of the file on the shelf of files; null where the film lies in this row. */
  file: string | null;
  film: Blob | null;
  sizeBytes: number;
  mimeType: string;
  example: boolean;
}

export interface SettingsRow extends Settings {
  id: "settings";
}

/** The tables as they are in the newest version. */
export class KennelDatabase extends Dexie {
  declare dogs: Table<Dog, string>;
  declare sessions: Table<Session, string>;
  declare clips: Table<ClipRecord, string>;
  declare films: Table<FilmRow, string>;
  declare settings: Table<SettingsRow, string>;
  declare gone: Table<Gone, string>;

  constructor(name: string, memory?: { indexedDB: IDBFactory; IDBKeyRange: typeof IDBKeyRange }) {
    super(name, memory ?? {});
    // Each version stays here for good: a device may come from any of them.
    this.version(1).stores({
      dogs: "id, name",
      sessions: "id, dogId, date",
      clips: "id, sessionId",
      films: "clipId",
      settings: "id",
    });
    this.version(2)
      .stores({ gone: "id" })
      .upgrade((change) =>
        change
          .table<Session, string>("sessions")
          .toCollection()
          .modify((session) => {
            // The first version judged marks on bare ground as if they were poles.
            if (session.bareGround) session.judgement = null;
          }),
      );
  }
}

/** The newest version that this program knows. */
export const DATABASE_VERSION = 2;
