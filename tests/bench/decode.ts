import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createServer } from "node:http";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { openBrowser, startSite } from "../browser/harness.ts";

/** Clips made for the occasion: noise, so that decoding is work, and a moving picture. */
const CLIPS = [
  { name: "H.264 1280x720", file: "720.mp4", size: "1280x720", codec: ["libx264", "-preset", "veryfast"] },
  { name: "H.264 1920x1080", file: "1080.mp4", size: "1920x1080", codec: ["libx264", "-preset", "veryfast"] },
  {
    name: "HEVC 1920x1080",
    file: "1080.mov",
    size: "1920x1080",
    codec: ["libx265", "-preset", "ultrafast", "-tag:v", "hvc1", "-x265-params", "log-level=error"],
  },
];

/** Frames a second that clips give up, in a worker: `npm run bench -- decode`. Needs ffmpeg to make the clips. */
export default async function run(): Promise<void> {
  if (spawnSync("ffmpeg", ["-version"]).status !== 0) {
    console.log("Skipped: ffmpeg is not on PATH to make the clips with.");
    console.log(JSON.stringify({ skipped: "no ffmpeg" }));
    return;
  }
  const folder = mkdtempSync(join(tmpdir(), "decode-"));
  const site = await startSite();
  const browser = await openBrowser();
  // The page's own server keeps to the project's folders, so the clips come from one beside it.
  const files = createServer((request, response) => {
    response.setHeader("access-control-allow-origin", "*");
    response.end(readFileSync(join(folder, (request.url ?? "/").slice(1))));
  });
  await new Promise<void>((resolve) => files.listen(0, "127.0.0.1", resolve));
  const address = files.address();
  const port = typeof address === "object" ? address?.port : 0;
  const rows: Record<string, number> = {};
  try {
    for (const clip of CLIPS) {
      makeClip(join(folder, clip.file), clip.size, clip.codec);
      const page = await browser.newPage();
      await page.goto(site.file("tests/browser/pages/video.html"));
      await page.waitForFunction(() => "clips" in window);
      for (const sampled of [false, true]) {
        const { frames, seconds, decoder } = await page.evaluate(
          ([url, sampled]) => window.clips.askWorker("speed", url, sampled),
          [`http://127.0.0.1:${port}/${clip.file}`, sampled] as const,
        );
        const label = `${clip.name} (${decoder})${sampled ? " + grey 640 + rgb 256" : ""}`;
        rows[label] = Math.round(frames / seconds);
        console.log(`${label}: ${rows[label]} frames/s`);
      }
      await page.close();
    }
  } finally {
    await browser.close();
    await site.close();
    files.close();
    rmSync(folder, { recursive: true, force: true });
  }
  console.log(JSON.stringify({ framesPerSecond: rows }));
}

function makeClip(path: string, size: string, codec: string[]): void {
  const source = `testsrc2=size=${size}:rate=60:duration=5,noise=alls=8:allf=t`;
  const made = spawnSync("ffmpeg", [
    ...["-v", "error", "-y", "-f", "lavfi", "-i", source, "-pix_fmt", "yuv420p"],
    ...["-c:v", ...codec, "-crf", "23", "-g", "60", path],
  ]);
  if (made.status !== 0) throw new Error(`ffmpeg could not make ${path}: ${made.stderr}`);
}
