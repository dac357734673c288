import { accessSync, constants } from "node:fs";
import { delimiter, join } from "node:path";

const NAMES = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"];

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
  return null;
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
