// `npm run bench -- NAME [arguments]`: runs tests/bench/NAME.ts. Every bench ends with one JSON object on the last line.
import { existsSync, readdirSync } from "node:fs";
import { basename, join } from "node:path";
import { installIfNeeded, root } from "../../src/command/prepare.mjs";

const [name, ...args] = process.argv.slice(2);
const file = ["ts", "mjs"].map((end) => join(root, `tests/bench/${name}.${end}`)).find(existsSync);
if (!name || !file || name === "run") {
  const names = readdirSync(join(root, "tests/bench"))
    .filter((f) => /\.(ts|mjs)$/.test(f))
    .map((f) => basename(f).replace(/\.(ts|mjs)$/, ""))
    .filter((n) => n !== "run");
  console.error(`Which bench? One of: ${names.join(", ")}`);
  process.exit(2);
}
installIfNeeded();
const { createServer } = await import("vite");
const vite = await createServer({
  configFile: false,
  root,
  server: { middlewareMode: true, hmr: false, ws: false, watch: null },
  appType: "custom",
  optimizeDeps: { noDiscovery: true },
  logLevel: "error",
});
try {
  const bench = await vite.ssrLoadModule(file);
  await bench.default(args);
} finally {
  await vite.close();
}
