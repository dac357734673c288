/** A decoder that gives nothing for this long has got stuck on damage; a slow phone needs seconds at most. */
const STUCK_MS = 10_000;

/** The same pictures; rejects where the next one does not come. */
export async function* unstalled<T>(source: AsyncGenerator<T, void, unknown>): AsyncGenerator<T, void, void> {
  let stuck = false;
  try {
    for (;;) {
      let clock: ReturnType<typeof setTimeout> | undefined;
      const limit = new Promise<never>((_, reject) => {
        clock = setTimeout(() => {
          stuck = true;
          reject(new Error("The decoder has got stuck."));
        }, STUCK_MS);
      });
      const next = await Promise.race([source.next(), limit]).finally(() => clearTimeout(clock));
      if (next.done) return;
      yield next.value;
    }
  } finally {
    const ended = source.return().catch(() => {});
    // One that is stuck does not end either.
    if (!stuck) await ended;
  }
}
