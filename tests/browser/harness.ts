import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { type Browser, chromium } from "playwright-core";
import { build, createServer, type InlineConfig, preview } from "vite";
import { chromiumArgs, chromiumWebGlArgs, findChromium } from "../chromium.mjs";

const project = fileURLToPath(new URL("../..", import.meta.url));

export interface Site {
  /** Origin with a slash at its end; the app's index page is there. */
  url: string;
  /** Address of a file of the project (path from the project's root); only on a site that is not built. */
  file(path: string): string;
  close(): Promise<void>;
}

/**
 * Serves the project on a free local port. Not built: Vite's development server with `src` as its root, where any
 * module or test page of the project can be loaded. Built: a production build of `root` (the app unless told
 * otherwise) in a folder of its own, served as a web host would.
 */
export async function startSite(options: { built?: boolean; root?: string } = {}): Promise<Site> {
  const scratch = mkdtempSync(join(tmpdir(), "pawgap-site-"));
  const shared: InlineConfig = {
    configFile: join(project, "vite.config.ts"),
    ...(options.root ? { root: options.root } : {}),
    // A cache of its own: two test runs at once must not optimise dependencies into one folder.
    cacheDir: join(scratch, "cache"),
    logLevel: "warn",
  };
  const address = { host: "127.0.0.1", port: 0 };
  const started = options.built
    ? await serveBuild(shared, join(scratch, "dist"), address)
    : await serveSource(shared, address);
  return {
    url: started.url,
    file(path) {
      if (options.built) throw new TypeError(`A built site does not serve ${path}.`);
      return `${started.url}@fs${join(project, path)}`;
    },
    async close() {
      await started.close();
      rmSync(scratch, { recursive: true, force: true });
    },
  };
}

async function serveSource(shared: InlineConfig, address: { host: string; port: number }) {
  const server = await createServer({
    ...shared,
    server: { ...address, hmr: false, watch: null },
    // Scanning every module up front finds all dependencies; one found late would reload the page under test.
    optimizeDeps: { entries: [join(project, "src/**/*.{ts,tsx,html}"), "!**/*.d.ts"] },
  });
  await server.listen();
  const url = server.resolvedUrls?.local[0];
  if (!url) throw new Error("The development server gave no address.");
  return { url, close: () => server.close() };
}

async function serveBuild(shared: InlineConfig, outDir: string, address: { host: string; port: number }) {
  await build({ ...shared, build: { outDir, emptyOutDir: true } });
  const server = await preview({ ...shared, build: { outDir }, preview: address });
  const url = server.resolvedUrls?.local[0];
  if (!url) throw new Error("The preview server gave no address.");
  return { url, close: () => server.close() };
}

/** Starts Chromium. `webgl` draws in software where there is no GPU. Throws when there is no Chromium. */
export async function openBrowser(options: { webgl?: boolean; headless?: boolean } = {}): Promise<Browser> {
  const executablePath = findChromium();
  if (!executablePath) {
    throw new Error("No Chromium found: install one, or set PAWGAP_CHROMIUM to its path.");
  }
  return chromium.launch({
    executablePath,
    headless: options.headless ?? true,
    args: options.webgl ? chromiumWebGlArgs : chromiumArgs,
  });
}
