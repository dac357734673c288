// Set-up steps shared by `npm start`, `npm test`, `npm run demo` and `npm run bench`. Node's own modules only:
// this runs before anything is installed.
import { spawnSync } from "node:child_process";
import { existsSync, readdirSync, statSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

export const root = join(dirname(fileURLToPath(import.meta.url)), "../..");

/** Runs a program with its output shown; throws a sentence when it fails. */
export function must(command, args, sentence, env = {}) {
  const done = spawnSync(command, args, {
    cwd: root,
    stdio: "inherit",
    shell: process.platform === "win32",
    env: { ...process.env, ...env },
  });
  if (done.status !== 0) throw new Error(sentence);
}

/** Installs the packages of package-lock.json unless exactly these are there already. */
export function installIfNeeded() {
  const lock = join(root, "package-lock.json");
  const installed = join(root, "node_modules/.package-lock.json");
  if (existsSync(installed) && statSync(installed).mtimeMs >= statSync(lock).mtimeMs) return;
  console.log("Installing packages …");
  must(
    "npm",
    ["ci", "--no-audit", "--no-fund"],
    "The packages could not be installed: see npm's message above.",
  );
}

/** Builds the site into dist unless it is newer than every source file. */
export function buildIfNeeded() {
  const built = join(root, "dist/index.html");
  const newest = newestOf(["src", "models", "fixtures/clips", "package-lock.json", "vite.config.ts"]);
  if (existsSync(built) && statSync(built).mtimeMs > newest) return;
  console.log("Building the site …");
  must(
    "npx",
    ["vite", "build", "--logLevel", "warn"],
    "The site could not be built: see the message above.",
    {
      NODE_ENV: "production",
    },
  );
}

function newestOf(paths) {
  let newest = 0;
  const walk = (path) => {
    const stat = statSync(path);
    newest = Math.max(newest, stat.mtimeMs);
    if (stat.isDirectory()) for (const name of readdirSync(path)) walk(join(path, name));
  };
  for (const path of paths) if (existsSync(join(root, path))) walk(join(root, path));
  return newest;
}
