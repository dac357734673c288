import type { OpenedBackup } from "./backup.ts";
import type { FilmRow, KennelDatabase } from "./database.ts";
import { mendLinks, mergeRecords, sharedLetters } from "./merge.ts";
import type { RestoreMode, RestoreReport } from "./types.ts";

/** Everything of a backup into the tables, in one transaction. */
export function takeIn(
  database: KennelDatabase,
  backup: OpenedBackup,
  placed: FilmRow[],
  mode: RestoreMode,
): Promise<{ report: RestoreReport; freed: FilmRow[] }> {
  const { dogs, sessions, clips, films, settings } = database;
  return database.transaction("rw", [dogs, sessions, clips, films, settings], async () => {
    const own = await settings.get("settings");
    let freed: FilmRow[] = [];
    if (mode === "replace") {
      freed = await films.toArray();
      await Promise.all([dogs.clear(), sessions.clear(), clips.clear(), films.clear()]);
    }
    const { records, notes } = mendLinks(backup, {
      dogIds: new Set(await dogs.toCollection().primaryKeys()),
      sessionIds: new Set(await sessions.toCollection().primaryKeys()),
    });
    const dogMerge = mergeRecords(await dogs.toArray(), records.dogs);
    const sessionMerge = mergeRecords(await sessions.toArray(), records.sessions);
    const clipMerge = mergeRecords(await clips.toArray(), records.clips);
    const clipIds = new Set([
      ...(await clips.toCollection().primaryKeys()),
      ...records.clips.map((clip) => clip.id),
    ]);
    const rows = placed.filter((row) => clipIds.has(row.clipId));
    await dogs.bulkPut(dogMerge.put);
    await sessions.bulkPut(sessionMerge.put);
    await clips.bulkPut(clipMerge.put);
    await films.bulkPut(rows);
    const kept = new Set(await films.toCollection().primaryKeys());
    await clips.toCollection().modify((clip) => {
      clip.filmKept = kept.has(clip.id);
    });
    if (mode === "replace" || backup.settings.changedAt > (own?.changedAt ?? 0)) {
      await settings.put({ ...backup.settings, lastBackupAt: own?.lastBackupAt ?? null, id: "settings" });
    }
    const report: RestoreReport = {
      dogsAdded: dogMerge.added,
      dogsUpdated: dogMerge.updated,
      sessionsAdded: sessionMerge.added,
      sessionsUpdated: sessionMerge.updated,
      clipsAdded: clipMerge.added,
      clipsUpdated: clipMerge.updated,
      filmsRestored: rows.length,
      notes: [...notes, ...sharedLetters(await dogs.toArray())],
    };
    return { report, freed: [...freed, ...placed.filter((row) => !clipIds.has(row.clipId))] };
  });
}
