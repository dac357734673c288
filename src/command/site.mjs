// Serves dist (and, for the demo command, single files beside it) on this machine only.
import { createReadStream, existsSync, statSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, normalize } from "node:path";
import { CONTENT_POLICY } from "./content-policy.mjs";
import { root } from "./prepare.mjs";

const TYPES = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript",
  ".mjs": "text/javascript",
  ".css": "text/css",
  ".json": "application/json",
  ".webmanifest": "application/manifest+json",
  ".svg": "image/svg+xml",
  ".png": "image/png",
  ".wasm": "application/wasm",
  ".mp4": "video/mp4",
  ".bin": "application/octet-stream",
};

/**
 * What a host adds to the policy that the pages carry themselves. The first two keep other sites' pages out of this
 * one's process; the app asks for nothing that needs them, so a host that can't set headers loses nothing else.
 */
export const ISOLATION = {
  "cross-origin-opener-policy": "same-origin",
  "cross-origin-embedder-policy": "require-corp",
  "cross-origin-resource-policy": "same-origin",
  "content-security-policy": `${CONTENT_POLICY}; frame-ancestors 'self'`,
  "permissions-policy": "geolocation=(), microphone=(), payment=(), usb=()",
};

/**
 * @param {{port?: number, files?: Map<string, string>, take?: (name: string, body: Buffer) => void, folder?: string, isolated?: boolean}} options
 *   files: extra paths under /given/ that are served from anywhere on disk;
 *   take: receives what the page sends to /taken/NAME;
 *   folder: served instead of dist;
 *   isolated: false leaves out the headers of ISOLATION, as a host does that can't set any.
 */
export async function serveSite(options = {}) {
  const dist = options.folder ?? join(root, "dist");
  const isolation = options.isolated === false ? {} : ISOLATION;
  const server = createServer((request, response) => {
    const path = decodeURIComponent(new URL(request.url ?? "/", "http://localhost").pathname);
    if (request.method === "POST" && path.startsWith("/taken/") && options.take) {
      const parts = [];
      request.on("data", (part) => parts.push(part));
      request.on("end", () => {
        options.take?.(path.slice("/taken/".length), Buffer.concat(parts));
        response.writeHead(204).end();
      });
      return;
    }
    const given = path.startsWith("/given/") ? options.files?.get(path.slice("/given/".length)) : undefined;
    const file =
      given ?? join(dist, normalize(path === "/" ? "/index.html" : path).replace(/^(\.\.[/\\])+/, ""));
    if (!given && !file.startsWith(dist)) return response.writeHead(403).end();
    if (!existsSync(file) || !statSync(file).isFile()) {
      return response.writeHead(404, { "content-type": "text/plain" }).end("Not found");
    }
    response.writeHead(200, {
      "content-type": TYPES[extname(file)] ?? "application/octet-stream",
      "content-length": statSync(file).size,
      "cache-control": path.startsWith("/assets/") ? "public, max-age=31536000, immutable" : "no-cache",
      "x-content-type-options": "nosniff",
      "referrer-policy": "no-referrer",
      ...isolation,
    });
    if (request.method === "HEAD") return response.end();
    createReadStream(file).pipe(response);
  });
  const port = await listen(server, options.port ?? 0);
  return {
    url: `http://localhost:${port}/`,
    close: () =>
      new Promise((resolve) => {
        server.closeAllConnections();
        server.close(resolve);
      }),
  };
}

/** Takes the wished port, or any free one when it is taken. */
function listen(server, port) {
  return new Promise((resolve, reject) => {
    server.once("error", (error) => {
      if (error.code === "EADDRINUSE" && port !== 0) listen(server, 0).then(resolve, reject);
      else reject(error);
    });
    server.listen(port, "127.0.0.1", () => resolve(server.address().port));
  });
}
