import { group } from "d3";
import type { Gone, KennelRecords } from "./types.ts";

export interface Merge<T> {
  /** Records to write. */
  put: T[];
  added: number;
  updated: number;
}

/**
 * What to write so that `here` also holds what `there` has: a record with a new id is added; of two with the same
 * id the one changed later wins, and at equal times the one here stays. Nothing here is ever taken away.
 */
export function mergeRecords<T extends { id: string; changedAt: number }>(here: T[], there: T[]): Merge<T> {
  const own = new Map(here.map((record) => [record.id, record]));
  const put: T[] = [];
  let added = 0;
  for (const record of there) {
    const mine = own.get(record.id);
    if (!mine) added++;
    else if (record.changedAt <= mine.changedAt) continue;
    put.push(record);
  }
  return { put, added, updated: put.length - added };
}

/**
 * Leaves out of a backup what was deleted here after it had last been changed there: deleted stays deleted. What was
 * changed there later than it was deleted here comes back, and so does whatever is on this device again.
 * @param here ids of the records that are on this device
 */
export function withoutDeleted(
  incoming: KennelRecords,
  gone: readonly Gone[],
  here: ReadonlySet<string>,
): { records: KennelRecords; notes: string[] } {
  const deletedAt = new Map(gone.filter(({ id }) => !here.has(id)).map(({ id, at }) => [id, at]));
  const lives = ({ id, changedAt }: { id: string; changedAt: number }) =>
    changedAt > (deletedAt.get(id) ?? Number.NEGATIVE_INFINITY);
  const dogs = incoming.dogs.filter(lives);
  const sessions = incoming.sessions.filter(lives);
  const dead = new Set(incoming.sessions.filter((session) => !lives(session)).map(({ id }) => id));
  const clips = incoming.clips.filter((clip) => lives(clip) && !dead.has(clip.sessionId));
  const left = [
    counted(incoming.dogs.length - dogs.length, "dog"),
    counted(incoming.sessions.length - sessions.length, "session"),
    counted(incoming.clips.length - clips.length, "clip"),
  ].filter((part) => part !== null);
  const notes =
    left.length === 0
      ? []
      : [
          `${listed(left)} of this backup had been deleted here and stayed so. To have everything back, let the backup take the place of what is here.`,
        ];
  return { records: { dogs, sessions, clips }, notes };
}

function counted(count: number, what: string): string | null {
  return count === 0 ? null : `${count} ${what}${count === 1 ? "" : "s"}`;
}

/** Dogs that are here and had been deleted on the device of the backup: they stay, and it is told. */
export function deletedThere(
  dogs: readonly { id: string; name: string; changedAt: number }[],
  gone: readonly Gone[],
): string[] {
  const deletedAt = new Map(gone.map(({ id, at }) => [id, at]));
  const names = dogs.filter((dog) => (deletedAt.get(dog.id) ?? 0) >= dog.changedAt).map((dog) => dog.name);
  if (names.length === 0) return [];
  return [
    `${listed(names)} had been deleted on the other device and ${names.length === 1 ? "is" : "are"} still here. Remove ${names.length === 1 ? "it" : "them"} here too if that was meant.`,
  ];
}

/**
 * Puts right what points to nothing: a session whose dog is nowhere keeps its dog's name but loses the link; a clip
 * whose session is nowhere cannot be shown and is left out. Each is told in a sentence.
 */
export function mendLinks(
  incoming: KennelRecords,
  here: { dogIds: Set<string>; sessionIds: Set<string> },
): { records: KennelRecords; notes: string[] } {
  const notes: string[] = [];
  const dogIds = new Set([...here.dogIds, ...incoming.dogs.map((dog) => dog.id)]);
  const sessionIds = new Set([...here.sessionIds, ...incoming.sessions.map((session) => session.id)]);
  const sessions = incoming.sessions.map((session) => {
    if (session.dogId === null || dogIds.has(session.dogId)) return session;
    notes.push(
      `A session of ${dayOf(session.date)} belongs to ${session.dogName || "a dog"}, which is neither in the backup nor here; it was kept without a dog.`,
    );
    return { ...session, dogId: null };
  });
  const clips = incoming.clips.filter((clip) => sessionIds.has(clip.sessionId));
  const lost = incoming.clips.length - clips.length;
  if (lost > 0) {
    notes.push(
      lost === 1
        ? "One clip belongs to a session that is not in the backup and was left out."
        : `${lost} clips belong to sessions that are not in the backup and were left out.`,
    );
  }
  return { records: { dogs: incoming.dogs, sessions, clips }, notes };
}

/** A sentence for each set of dogs that carry the same letters: they can't be told apart on the cord. */
export function sharedLetters(dogs: { name: string; letters: string }[]): string[] {
  const byLetters = group(
    dogs.filter((dog) => dog.letters !== ""),
    (dog) => dog.letters.toUpperCase(),
  );
  return [...byLetters]
    .filter(([, sharing]) => sharing.length > 1)
    .map(
      ([letters, sharing]) =>
        `${listed(sharing.map((dog) => dog.name))} carry the same letters, ${letters}: give each its own, so that they can be told apart on the cord.`,
    );
}

function listed(names: string[]): string {
  return names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
}

function dayOf(date: number): string {
  return new Date(date).toISOString().slice(0, 10);
}
