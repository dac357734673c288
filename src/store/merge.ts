import { group } from "d3";
import type { KennelRecords } from "./types.ts";

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
      `A session of ${dayOf(session.date)} belongs to ${session.dogName || "a dog"}, which is not in the backup; it was kept without a dog.`,
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
