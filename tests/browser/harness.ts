import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { type Browser, chromium } from "playwright-core";
import { build, createServer, type InlineConfig, loadConfigFromFile, preview } from "vite";
import { chromiumArgs, chromiumWebGlArgs, findChromium } from "../chromium.mjs";

const project = fileURLToPath(new URL("../..", import.meta.url));

export interface Site {
  /** Address of the index page. */
  url: string;
  /** Address of a file of the project (path from the project's root); only on a site that is not built. */
  file(path: string): string;
  close(): Promise<void>;
}

export interface SiteOptions {
  /** A production build in a folder of its own, served as a web host would; else the development server. */
  built?: boolean;
  /** Built: this test page (path from the project's root) instead of the app; it is then the site's index page. */
  page?: string;
  /** Built: a folder of the project whose files are served at the site's top. */
  files?: string;
}

/**
 * Serves the project on a free local port. Not built: Vite's development server with `src` as its root, where any
 * module or test page of the project can be loaded by {@link Site.file}.
 */
export async function startSite(options: SiteOptions = {}): Promise<Site> {
  const scratch = mkdtempSync(join(tmpdir(), "pawgap-site-"));
  const started = options.built ? await serveBuild(options, scratch) : await serveSource(scratch);
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

const configFile = join(project, "vite.config.ts");
const address = { host: "127.0.0.1", port: 0 };

async function serveSource(scratch: string) {
  const server = await createServer({
    configFile,
    logLevel: "warn",
    // A cache of its own: two test runs at once must not optimise dependencies into one folder.
    cacheDir: join(scratch, "cache"),
    server: { ...address, hmr: false, watch: null },
    // Scanning every module up front finds all dependencies; one found late would reload the page under test.
    optimizeDeps: { entries: [join(project, "src/**/*.{ts,tsx,html}"), "!**/*.d.ts"] },
  });
  await server.listen();
  return { url: addressOf(server.resolvedUrls), close: () => server.close() };
}

async function serveBuild({ page, files }: SiteOptions, scratch: string) {
  const loaded = await loadConfigFromFile({ command: "build", mode: "production" }, configFile);
  if (!loaded) throw new Error(`No configuration in ${configFile}.`);
  const outDir = join(scratch, "dist");
  const config: InlineConfig = {
    ...loaded.config,
    configFile: false,
    logLevel: "error",
    ...(files ? { publicDir: join(project, files) } : {}),
    ...(page ? { root: dirname(join(project, page)) } : {}),
    build: {
      ...loaded.config.build,
      ...(page ? { rolldownOptions: { input: join(project, page) } } : {}),
      outDir,
      emptyOutDir: true,
    },
  };
  await build(config);
  const server = await preview({ ...config, preview: address });
  const name = page ? basename(page) : "";
  return { url: `${addressOf(server.resolvedUrls)}${name}`, close: () => server.close() };
}

function addressOf(urls: { local: string[] } | null): string {
  const url = urls?.local[0];
  if (!url) throw new Error("The server gave no address.");
  return url;
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
