import { type Checks, checks } from "./video-checks.ts";

// The same checks on the page and inside a module worker, as the app uses clips in both.
const worker = new Worker(new URL("./video-worker.ts", import.meta.url), { type: "module" });
let asked = 0;

function askWorker<Name extends keyof Checks>(
  name: Name,
  ...args: Parameters<Checks[Name]>
): Promise<Awaited<ReturnType<Checks[Name]>>> {
  const id = ++asked;
  worker.postMessage({ id, name, args });
  return new Promise((resolve, reject) => {
    const listen = ({ data }: MessageEvent) => {
      if (data.id !== id) return;
      worker.removeEventListener("message", listen);
      if (data.error) reject(new Error(data.error));
      else resolve(data.value);
    };
    worker.addEventListener("message", listen);
  });
}

declare global {
  interface Window {
    clips: { page: Checks; askWorker: typeof askWorker };
  }
}

window.clips = { page: checks, askWorker };
