/**
 * Lets the app start without a network after this visit. A newer version waits until every window of the old one
 * is closed: nobody's session is interrupted.
 */
export function keepForOffline(): void {
  if (!import.meta.env.PROD || !("serviceWorker" in navigator)) return;
  addEventListener("load", () => {
    // Private windows and some hosts refuse; the app works all the same, only not without a network.
    navigator.serviceWorker.register(new URL("sw.js", document.baseURI)).catch(() => {});
  });
}

/** What is on this device for work without a network. */
export interface KeptForOffline {
  /** Bytes of the program with its network and the demo clip; null while they are not all here. */
  programBytes: number | null;
  /** A newer version is here too, and begins when every window of this one is closed. */
  newerWaits: boolean;
}

export async function lookAtKept(): Promise<KeptForOffline> {
  const worker = await navigator.serviceWorker?.getRegistration().catch(() => undefined);
  const newerWaits = Boolean(worker?.waiting);
  if (!worker?.active) return { programBytes: null, newerWaits };
  const names = (await caches.keys()).filter((name) => name.includes("precache"));
  const files = await Promise.all(
    names.map(async (name) => {
      const shelf = await caches.open(name);
      return Promise.all((await shelf.keys()).map(async (request) => sizeOf(await shelf.match(request))));
    }),
  );
  return { programBytes: files.flat().reduce((sum, size) => sum + size, 0), newerWaits };
}

async function sizeOf(answer: Response | undefined): Promise<number> {
  const told = Number(answer?.headers.get("content-length"));
  if (told > 0) return told;
  return answer ? (await answer.blob()).size : 0;
}
