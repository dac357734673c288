import { spawnSync } from "node:child_process";
import { accessSync, constants } from "node:fs";
import { delimiter, join } from "node:path";

const NAMES = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"];
const PLACES = [
  "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
  "/Applications/Chromium.app/Contents/MacOS/Chromium",
  "C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe",
];

/**
 * Where a Chromium can be started from: PAWGAP_CHROMIUM when set, else the first of the usual names in /usr/bin
 * or on PATH.
 * @returns {string | null} Path of the program; null when there is none.
 */
export function findChromium() {
  const chosen = process.env.PAWGAP_CHROMIUM;
  if (chosen) return chosen;
  const folders = ["/usr/bin", ...(process.env.PATH ?? "").split(delimiter).filter(Boolean)];
  for (const name of NAMES) {
    for (const folder of folders) {
      const path = join(folder, name);
      if (canRun(path)) return path;
    }
  }
  return PLACES.find(canRun) ?? null;
}

/** @param {string} path */
function canRun(path) {
  try {
    accessSync(path, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}

/** Quiet start without sandbox or calls home, so that it runs in a container. */
const common = [
  "--no-sandbox",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

/** @type {string[]} Arguments for pages that need no WebGL. */
export const chromiumArgs = [...common, "--disable-gpu"];

/** @type {string[]} Arguments for pages that draw with WebGL; works in software where there is no GPU. */
export const chromiumWebGlArgs = [
  ...common,
  "--use-angle=swiftshader",
  "--enable-unsafe-swiftshader",
  "--ignore-gpu-blocklist",
];

/**
 * Like findChromium, but installs Debian's package as root where there is none.
 * @returns {string}
 * @throws {Error} A sentence that says what to install.
 */
export function ensureChromium() {
  const found = findChromium();
  if (found) return found;
  if (process.getuid?.() === 0 && canRun("/usr/bin/apt-get")) {
    console.log("Installing Chromium …");
    const env = { ...process.env, DEBIAN_FRONTEND: "noninteractive" };
    spawnSync("apt-get", ["update"], { stdio: "inherit", env });
    spawnSync("apt-get", ["install", "-y", "--no-install-recommends", "chromium"], { stdio: "inherit", env });
    const now = findChromium();
    if (now) return now;
  }
  throw new Error(
    "A Chromium or Chrome browser is needed and none was found. Install one (on Debian or Ubuntu: " +
      "`sudo apt-get install chromium`), or set PAWGAP_CHROMIUM to its path, and run this again.",
  );
}
