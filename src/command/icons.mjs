// Draws the app's icons from src/assets/public/mark.svg, for home screens that take no SVG. `npm run icons`.
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { chromiumArgs, findChromium } from "./chromium.mjs";
import { root } from "./prepare.mjs";

const folder = join(root, "src/assets/public");
const mark = readFileSync(join(folder, "mark.svg"), "utf8");

const executablePath = findChromium();
if (!executablePath)
  throw new Error("Drawing the icons needs a Chromium: install one, or set PAWGAP_CHROMIUM.");
const browser = await chromium.launch({ executablePath, args: chromiumArgs });
try {
  await draw("icon-192.png", 192, mark);
  await draw("icon-512.png", 512, mark);
  // iPhones round the corners themselves, and paint what is clear black.
  await draw("apple-touch-icon.png", 180, mark.replace(' rx="14"', ""));
} finally {
  await browser.close();
}

/**
 * @param {string} name
 * @param {number} sidePx
 * @param {string} svg
 */
async function draw(name, sidePx, svg) {
  const page = await browser.newPage({ viewport: { width: sidePx, height: sidePx } });
  await page.setContent(`<style>body { margin: 0 } svg { display: block }</style>${svg}`);
  writeFileSync(join(folder, name), await page.screenshot({ omitBackground: true }));
  await page.close();
}
