/** The last things that happened, for a problem report: screens and errors, never a name or a note. */
const LONGEST = 12;

interface Step {
  /** Milliseconds since 1970. */
  at: number;
  what: string;
}

const steps: Step[] = [];
let lastError: Error | null = null;

export function noteStep(what: string): void {
  steps.push({ at: Date.now(), what });
  if (steps.length > LONGEST) steps.shift();
}

/** Remembers an error that is shown as a sentence. */
export function noteError(error: unknown): void {
  lastError = error instanceof Error ? error : new Error(String(error));
  noteStep(`error: ${lastError.name}`);
}

export function trail(): { steps: readonly Step[]; lastError: Error | null } {
  return { steps, lastError };
}

/** An address without ids: they tell one clip or dog from another. */
export function screenOf(hash: string): string {
  return (
    hash
      .replace(/\?.*$/, "")
      .replace(/\/[0-9a-f-]{16,}/gi, "/…")
      .replace(/^#/, "") || "/"
  );
}

export function followSteps(): void {
  noteStep(`screen ${screenOf(location.hash)}`);
  addEventListener("hashchange", () => noteStep(`screen ${screenOf(location.hash)}`));
  addEventListener("error", (event) => noteError(event.error ?? event.message));
  addEventListener("unhandledrejection", (event) => noteError(event.reason));
}
