// `npm test`: sets up what the tests need, then format and lint, types, and every test; closes with one plain line.
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { buildIfNeeded, installIfNeeded, must, root } from "../src/command/prepare.mjs";

try {
  installIfNeeded();
  const { ensureChromium } = await import("../src/command/chromium.mjs");
  ensureChromium();
  must("npx", ["biome", "check", "."], "Format or lint is off: `npm run format` mends most of it.");
  must("npx", ["tsc", "--noEmit"], "The types do not fit: see above.");
  buildIfNeeded();
} catch (error) {
  console.error(error instanceof Error ? error.message : error);
  console.log("0 passed, 1 failed");
  process.exit(1);
}

const folder = mkdtempSync(join(tmpdir(), "pawgap-"));
const summary = join(folder, "summary.json");
const done = spawnSync(
  "npx",
  [
    "vitest",
    "run",
    "--reporter=default",
    "--reporter=json",
    `--outputFile.json=${summary}`,
    ...process.argv.slice(2),
  ],
  { cwd: root, stdio: "inherit", shell: process.platform === "win32" },
);
let passed = 0;
let failed = done.status === 0 ? 0 : 1;
let skipped = 0;
try {
  const told = JSON.parse(readFileSync(summary, "utf8"));
  passed = told.numPassedTests;
  failed = Math.max(
    failed,
    told.numFailedTests + told.numFailedTestSuites * (told.numFailedTests === 0 ? 1 : 0),
  );
  skipped = told.numPendingTests;
} catch {
  failed = Math.max(failed, 1);
}
rmSync(folder, { recursive: true, force: true });
console.log(`\n${passed} passed, ${failed} failed${skipped > 0 ? `, ${skipped} skipped` : ""}`);
process.exit(failed > 0 || passed === 0 ? 1 : 0);
