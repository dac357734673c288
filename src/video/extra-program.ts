import wasmUrl from "@ffmpeg/core/wasm?url";

/** Size of the extra decoding program in bytes: told before it is fetched, and for progress where no length is sent. */
export const PROGRAM_BYTES = 32_232_419;

/** Where the browser keeps it once it was fetched, whether or not a service worker is at work. */
const SHELF = "extra-decoder";

const address = () => new URL(wasmUrl, self.location.href).href;

/** Whether it is on this device already. */
export async function isProgramKept(): Promise<boolean> {
  return (await kept()) !== undefined;
}

/** Frees its room; it is fetched again when a clip needs it. */
export async function dropProgram(): Promise<void> {
  await globalThis.caches?.delete(SHELF);
}

/**
 * The program, from this device or from the server that the page came from; kept from then on.
 *
 * @param onProgress Called with 0 to 1.
 * @throws {Error} When it is neither here nor can be fetched.
 */
export async function fetchProgram(
  onProgress: (done: number) => void = () => {},
  signal?: AbortSignal,
): Promise<Blob> {
  const here = await kept();
  if (here) return here.blob();
  const response = await fetch(address(), signal ? { signal } : {});
  if (!response.ok || !response.body) throw new Error(`The decoding program gave status ${response.status}.`);
  const parts: Uint8Array<ArrayBuffer>[] = [];
  let received = 0;
  const reader = response.body.getReader();
  for (;;) {
    const { value, done } = await reader.read();
    if (done) break;
    parts.push(value);
    received += value.length;
    onProgress(Math.min(1, received / PROGRAM_BYTES));
  }
  const program = new Blob(parts, { type: "application/wasm" });
  await keep(program);
  return program;
}

async function kept(): Promise<Response | undefined> {
  try {
    return await (await globalThis.caches?.open(SHELF))?.match(address());
  } catch {
    // Private windows may refuse the cache: then it is fetched each time.
    return undefined;
  }
}

async function keep(program: Blob): Promise<void> {
  try {
    const shelf = await globalThis.caches?.open(SHELF);
    for (const old of (await shelf?.keys()) ?? []) await shelf?.delete(old);
    await shelf?.put(address(), new Response(program, { headers: { "content-type": "application/wasm" } }));
  } catch {
    // No room to keep it: it works all the same, until the page is closed.
  }
}
