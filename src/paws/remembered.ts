import type { BackendName } from "./backend.ts";

const KEY = "pawgap.backend";
const NAMES: readonly string[] = ["webgpu", "webgl", "wasm"] satisfies BackendName[];

/** The backend that was fastest on this device in this browser; undefined before the first trial. For pages only. */
export function rememberedBackend(): BackendName | undefined {
  try {
    const [name, browser] = JSON.parse(localStorage.getItem(KEY) ?? "[]") as string[];
    // A new browser may bring a new driver, and with it another order.
    return browser === navigator.userAgent && NAMES.includes(name ?? "") ? (name as BackendName) : undefined;
  } catch {
    return undefined;
  }
}

export function rememberBackend(name: string): void {
  try {
    localStorage.setItem(KEY, JSON.stringify([name, navigator.userAgent]));
  } catch {
    // Where storage is blocked the trial is run again next time.
  }
}
