import { Dexie, type Table } from "dexie";
import type { Change, ClipRecord, Keeper, Session } from "./types.ts";

/** What was changed on a clip and is not in its records yet. */
export interface Jotting {
  clipId: string;
  sessionId: string;
  clip: Change<ClipRecord>;
  session: Change<Session>;
  /** Milliseconds since 1970. */
  at: number;
}

/** A clip whose landings are being found; one left behind was broken off. */
interface RunUnderWay {
  clipId: string;
  startedAt: number;
}

/**
 * Work that a killed page must not lose. Records are checked and written as a whole, which takes a moment; here the
 * bare change is handed to the browser in the same tick in which it was made, so that no moment is left to lose it in.
 * A database of its own: nothing in it is worth a backup.
 */
export interface Work {
  /** Takes the place of what was jotted for this clip before. Never throws: a change still goes to the records. */
  jot(jotting: Jotting): void;
  forget(clipId: string): void;
  begin(clipId: string): void;
  end(clipId: string): void;
  /** Ids of the clips whose analysis was begun and not ended. */
  begun(): Promise<Set<string>>;
}

class WorkDatabase extends Dexie {
  declare jottings: Table<Jotting, string>;
  declare runs: Table<RunUnderWay, string>;

  constructor() {
    super("pawgap-work");
    this.version(1).stores({ jottings: "clipId", runs: "clipId" });
  }
}

/** Where the analysis keeps what the network said (pipeline/look-log.ts): it tells of the same clips. */
const LOOKS = "pawgap-looks";

type Shelf = "jottings" | "runs";

class DeviceWork implements Work {
  constructor(private readonly database: WorkDatabase) {}

  jot(jotting: Jotting): void {
    this.now("jottings", (shelf) => shelf.put(jotting));
  }

  forget(clipId: string): void {
    this.now("jottings", (shelf) => shelf.delete(clipId));
  }

  begin(clipId: string): void {
    this.now("runs", (shelf) => shelf.put({ clipId, startedAt: Date.now() } satisfies RunUnderWay));
  }

  end(clipId: string): void {
    this.now("runs", (shelf) => shelf.delete(clipId));
  }

  async begun(): Promise<Set<string>> {
    return new Set(await this.database.runs.toCollection().primaryKeys());
  }

  /** Request and commit leave the page together: it may be killed right after. */
  private now(name: Shelf, act: (shelf: IDBObjectStore) => IDBRequest): void {
    try {
      const transaction = this.database.backendDB().transaction(name, "readwrite");
      act(transaction.objectStore(name));
      transaction.commit();
    } catch {
      // No room, or the database was closed under us: the records are written all the same.
    }
  }
}

const nowhere: Work = {
  jot() {},
  forget() {},
  begin() {},
  end() {},
  begun: async () => new Set(),
};

let opened: Promise<WorkDatabase | null> | undefined;

/** null where the browser keeps nothing. */
function database(): Promise<WorkDatabase | null> {
  opened ??= (async () => {
    const made = new WorkDatabase();
    try {
      await made.open();
      return made;
    } catch {
      return null;
    }
  })();
  return opened;
}

export async function openWork(): Promise<Work> {
  const made = await database();
  return made ? new DeviceWork(made) : nowhere;
}

/** Brings what a killed page left behind into the records. Call it before anything is read. */
export async function settleWork(keeper: Keeper): Promise<void> {
  const made = await database();
  if (!made) return;
  for (const left of await made.jottings.toArray()) {
    if (Object.keys(left.session).length > 0) await keeper.changeSession(left.sessionId, left.session);
    if (Object.keys(left.clip).length > 0) await keeper.changeClip(left.clipId, left.clip);
    await made.transaction("rw", made.jottings, async () => {
      // Another window may be at work on this clip, and have jotted on meanwhile.
      if ((await made.jottings.get(left.clipId))?.at === left.at) await made.jottings.delete(left.clipId);
    });
  }
}

/** Forgets all work under way: the records it belongs to are gone or replaced. */
export async function clearWork(): Promise<void> {
  const made = await database();
  await Promise.all([made?.jottings.clear(), made?.runs.clear(), Dexie.delete(LOOKS)]);
}
