import { KeeperError } from "./types.ts";

/** Turns whatever the browser threw into a sentence for the person. KeeperErrors pass through. */
export function asKeeperError(error: unknown): KeeperError {
  if (error instanceof KeeperError) return error;
  const names = namesOf(error);
  if (names.includes("QuotaExceededError")) {
    return new KeeperError(
      "full",
      "This device has no room left for that, so it was not kept; everything kept before is still there. Free films under Settings, or make room on the device, and try again.",
      { cause: error },
    );
  }
  if (names.includes("VersionError")) return newerDatabase(error);
  if (names.includes("AbortError") && isAbort(error)) {
    return new KeeperError("cancelled", "Stopped. Nothing that was kept before has changed.", {
      cause: error,
    });
  }
  if (names.some((name) => NO_STORAGE.has(name))) {
    return new KeeperError(
      "no-storage",
      "This browser does not let the page keep anything (a private window, or storage is switched off). Open it in an ordinary window, or make a backup before you close the page.",
      { cause: error },
    );
  }
  const detail = error instanceof Error && error.message ? ` (${error.message.slice(0, 160)})` : "";
  return new KeeperError(
    "failed",
    `That could not be kept or read${detail}. Reload the page and try again; what was kept before is not touched.`,
    { cause: error },
  );
}

export function newerDatabase(cause?: unknown): KeeperError {
  return new KeeperError(
    "newer-database",
    "The data on this device was written by a newer version of this program. Reload the page to get the newer version; nothing has been changed.",
    { cause },
  );
}

/** Runs `work`; what it throws comes out as a KeeperError. */
export async function withSentences<T>(work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    throw asKeeperError(error);
  }
}

const NO_STORAGE = new Set([
  "MissingAPIError",
  "OpenFailedError",
  "SecurityError",
  "InvalidStateError",
  "NotAllowedError",
  "UnknownError",
]);

/** The error's own name and those of what lies inside it: databases wrap the cause, sometimes twice. */
function namesOf(error: unknown): string[] {
  const names: string[] = [];
  let at: unknown = error;
  for (let depth = 0; depth < 5 && typeof at === "object" && at !== null; depth++) {
    if ("name" in at && typeof at.name === "string") names.push(at.name);
    at = "inner" in at && at.inner ? at.inner : "cause" in at ? at.cause : undefined;
  }
  return names;
}

/** A database also calls its own failures "AbortError"; only a signal's abort is the person's wish. */
function isAbort(error: unknown): boolean {
  return error instanceof DOMException && error.name === "AbortError";
}
