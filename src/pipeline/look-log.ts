import { Dexie, type Table } from "dexie";
import type { PadPlace, PawNetwork, PawSighting } from "../paws/types.ts";

/** Answers of the network in one clip, in the order in which they were given. */
interface LookBatch {
  number?: number;
  clipId: string;
  /** Which network, seen with which code: another one answers differently. */
  program: string;
  /** Milliseconds since 1970. */
  at: number;
  pictures: string[];
  answers: PawSighting[];
  /** The same of the pad network: what it was shown at a time, and what it said. */
  patches: string[];
  places: PadPlace[][];
}

class LookDatabase extends Dexie {
  declare batches: Table<LookBatch, number>;

  constructor() {
    super("pawgap-looks");
    this.version(1).stores({ batches: "++number, clipId" });
  }
}

/** Looks written at a time, with the pads seen in them: what a killed page loses at most. */
const BATCH = 4;
/** Logs that nobody went on with are dropped after this long. */
const KEPT_MS = 30 * 24 * 3600 * 1000;

/** The network's answers in one clip, kept so that an analysis goes on where a killed page left it. */
export interface LookLog {
  /** Looks answered from the log so far. */
  readonly takenUp: number;
  /** The same network, asking the log first. */
  behind(network: PawNetwork): PawNetwork;
}

/**
 * The log of a clip. An answer is found by what the network was shown, pixel by pixel, so that it never stands for
 * another crop, whatever was marked or chosen anew; decoding and following are done again, which costs little.
 * Where the browser keeps nothing the network is simply asked.
 */
export async function openLookLog(clipId: string, program: string): Promise<LookLog> {
  const answers = new Map<string, PawSighting>();
  const places = new Map<string, PadPlace[]>();
  const database = await opened();
  try {
    await database?.batches.where("clipId").notEqual(clipId).filter(isOld).delete();
    for (const batch of (await database?.batches.where({ clipId }).toArray()) ?? []) {
      if (batch.program !== program) continue;
      batch.pictures.forEach((picture, k) => {
        answers.set(picture, batch.answers[k] as PawSighting);
      });
      batch.patches.forEach((patches, k) => {
        places.set(patches, batch.places[k] as PadPlace[]);
      });
    }
  } catch {
    // An unreadable log only costs time.
  }
  const fresh = (): LookBatch => ({
    clipId,
    program,
    at: Date.now(),
    pictures: [],
    answers: [],
    patches: [],
    places: [],
  });
  let batch = fresh();
  let takenUp = 0;

  const write = () => {
    try {
      const transaction = database?.backendDB().transaction("batches", "readwrite");
      transaction?.objectStore("batches").add(batch);
      transaction?.commit();
    } catch {
      // No room: the analysis goes on, and would begin anew if it were broken off.
    }
    batch = fresh();
  };

  return {
    get takenUp() {
      return takenUp;
    },
    behind(network) {
      const behind: PawNetwork = {
        ...network,
        async look(rgb) {
          const picture = fingerprint(rgb);
          const known = answers.get(picture);
          if (known) {
            takenUp++;
            return structuredClone(known);
          }
          const answer = await network.look(rgb);
          batch.pictures.push(picture);
          batch.answers.push(answer);
          if (batch.pictures.length >= BATCH) write();
          return answer;
        },
      };
      if (!network.pads) return behind;
      const ask = network.pads;
      return {
        ...behind,
        async pads(patches) {
          const shown = fingerprint(patches);
          const known = places.get(shown);
          if (known) return structuredClone(known);
          const answer = await ask(patches);
          batch.patches.push(shown);
          batch.places.push(answer);
          return answer;
        },
      };
    },
  };
}

/** Drops the log of a clip: its analysis is kept, or given up. */
export async function forgetLooks(clipId: string): Promise<void> {
  await (await opened())?.batches
    .where({ clipId })
    .delete()
    .catch(() => {});
}

async function opened(): Promise<LookDatabase | null> {
  const database = new LookDatabase();
  return database.open().then(
    () => database,
    () => null,
  );
}

const isOld = (batch: LookBatch) => batch.at < Date.now() - KEPT_MS;

/** Sixty-four bits of what the network is shown: two sums over its words, each mixed by another odd number (FNV-1a). */
export function fingerprint(bytes: Uint8Array): string {
  const whole = bytes.byteOffset % 4 === 0 ? bytes : bytes.slice();
  const words = new Uint32Array(whole.buffer, whole.byteOffset, whole.byteLength >> 2);
  let one = 0x811c9dc5;
  let other = 0x9e3779b9;
  for (const word of words) {
    one = Math.imul(one ^ word, 0x01000193);
    other = Math.imul(other ^ (word >>> 16) ^ (word << 16), 0x85ebca6b);
    other ^= other >>> 13;
  }
  for (const byte of whole.subarray(words.length * 4)) one = Math.imul(one ^ byte, 0x01000193);
  return `${(one >>> 0).toString(36)}-${(other >>> 0).toString(36)}`;
}
