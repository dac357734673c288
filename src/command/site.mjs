// Serves dist (and, for the demo command, single files beside it) on this machine only.
import { createReadStream, existsSync, statSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, normalize } from "node:path";
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
 * @param {{port?: number, files?: Map<string, string>, take?: (name: string, body: Buffer) => void}} options
 *   files: extra paths under /given/ that are served from anywhere on disk;
 *   take: receives what the page sends to /taken/NAME.
 */
export async function serveSite(options = {}) {
  const dist = join(root, "dist");
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
