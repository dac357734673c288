import { Dexie } from "dexie";
import { DATABASE_VERSION, KennelDatabase } from "./database.ts";
import { DeviceKeeper } from "./device-keeper.ts";
import { asKeeperError, newerDatabase } from "./failures.ts";
import { openFilmShelf, sweepShelf } from "./films.ts";
import type { Keeper } from "./types.ts";

/**
 * Opens what is kept on this device. Where the browser keeps nothing, the keeper works in memory until the page
 * closes, and says so by `lasting` being false.
 * @throws KeeperError "newer-database" when a newer version of the program has been here
 */
export async function openKeeper(name = "pawgap"): Promise<Keeper> {
  try {
    await refuseNewer(name);
    const database = new KennelDatabase(name);
    await database.open();
    const shelf = await openFilmShelf(`${name}-films`);
    // A sweep that fails keeps nobody from the data; the next start tries again.
    if (shelf) await sweepShelf(shelf, database).catch(() => {});
    return new DeviceKeeper(database, shelf, true);
  } catch (error) {
    const problem = asKeeperError(error);
    if (problem.kind !== "no-storage") throw problem;
    const { IDBFactory, IDBKeyRange } = await import("fake-indexeddb");
    const database = new KennelDatabase(name, { indexedDB: new IDBFactory(), IDBKeyRange });
    await database.open();
    return new DeviceKeeper(database, null, false);
  }
}

/** A newer database would be opened and changed without an error, so its version is read before. */
async function refuseNewer(name: string): Promise<void> {
  if (!(await Dexie.exists(name))) return;
  const asItIs = await new Dexie(name).open();
  const version = asItIs.verno;
  asItIs.close();
  if (version > DATABASE_VERSION) throw newerDatabase();
}
