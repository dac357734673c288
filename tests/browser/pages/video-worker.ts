import { checks } from "./video-checks.ts";

self.addEventListener("message", async ({ data: { id, name, args } }: MessageEvent) => {
  try {
    const check = checks[name as keyof typeof checks] as (...args: unknown[]) => Promise<unknown>;
    self.postMessage({ id, value: await check(...args) });
  } catch (error) {
    self.postMessage({ id, error: String(error) });
  }
});
