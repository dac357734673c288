import type { OpenedBackup } from "./backup.ts";
import type { FilmRow, KennelDatabase } from "./database.ts";
import { deletedThere, mendLinks, mergeRecords, sharedLetters, withoutDeleted } from "./merge.ts";
import type { Gone, RestoreMode, RestoreReport } from "./types.ts";

/** Everything of a backup into the tables, in one transaction. */
export function takeIn(
  database: KennelDatabase,
  backup: OpenedBackup,
  placed: FilmRow[],
  mode: RestoreMode,
): Promise<{ report: RestoreReport; freed: FilmRow[] }> {
  const { dogs, sessions, clips, films, gone, settings } = database;
  return database.transaction("rw", [dogs, sessions, clips, films, gone, settings], async () => {
    const own = await settings.get("settings");
    let freed: FilmRow[] = [];
    if (mode === "replace") {
      freed = await films.toArray();
      await Promise.all([dogs.clear(), sessions.clear(), clips.clear(), films.clear(), gone.clear()]);
    }
    const dogIds = new Set(await dogs.toCollection().primaryKeys());
    const sessionIds = new Set(await sessions.toCollection().primaryKeys());
    const clipIdsHere = await clips.toCollection().primaryKeys();
    const here = new Set([...dogIds, ...sessionIds, ...clipIdsHere]);
    const undeleted = withoutDeleted(backup, await gone.toArray(), here);
    const stillHere = deletedThere(await dogs.toArray(), backup.gone);
    const dogMerge = mergeRecords(await dogs.toArray(), undeleted.records.dogs);
    const sessionMerge = mergeRecords(await sessions.toArray(), undeleted.records.sessions);
    const { records, notes } = mendLinks(
      { ...undeleted.records, sessions: sessionMerge.put },
      { dogIds, sessionIds },
    );
    const clipMerge = mergeRecords(await clips.toArray(), records.clips);
    const clipIds = new Set([...clipIdsHere, ...records.clips.map((clip) => clip.id)]);
    const rows = placed.filter((row) => clipIds.has(row.clipId));
    await dogs.bulkPut(dogMerge.put);
    await sessions.bulkPut(records.sessions);
    await clips.bulkPut(clipMerge.put);
    await films.bulkPut(rows);
    const alive = new Set([
      ...here,
      ...[records.dogs, records.sessions, records.clips].flat().map(({ id }) => id),
    ]);
    await rememberDeleted(
      gone,
      backup.gone.filter(({ id }) => !alive.has(id)),
    );
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
      notes: [...undeleted.notes, ...notes, ...stillHere, ...sharedLetters(await dogs.toArray())],
    };
    return { report, freed: [...freed, ...placed.filter((row) => !clipIds.has(row.clipId))] };
  });
}

/** Takes over what had been deleted elsewhere, so that an older backup does not bring it to this device either. */
async function rememberDeleted(gone: KennelDatabase["gone"], elsewhere: readonly Gone[]): Promise<void> {
  const known = new Map((await gone.toArray()).map((one) => [one.id, one.at]));
  await gone.bulkPut(elsewhere.filter((one) => one.at > (known.get(one.id) ?? 0)));
}
