export { chromiumArgs, chromiumWebGlArgs, findChromium } from "../src/command/chromium.mjs";
