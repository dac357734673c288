// Writes NOTICE: every package that the built site can carry, with its version and licence. `npm run notice`.
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { installIfNeeded, root } from "./prepare.mjs";

const HEAD = `Pawgap
Copyright (c) 2026 The Pawgap contributors. MIT, see LICENSE.

The paw network's weights (models/paws) are ours; models/CARD.md names the data and the pretrained start behind them.

The extra decoder is a separate program. @ffmpeg/core (FFmpeg compiled to WebAssembly, with x264 and x265) is licensed
GPL-2.0-or-later. It is not linked into Pawgap: it lies beside it as files of its own, is fetched only when a clip needs
it, runs in a worker of its own, and talks to Pawgap through files and messages. A distribution without it loses nothing
but the clips that the browser itself cannot decode. Its source: the ffmpeg.wasm project.

mediabunny is licensed MPL-2.0 and is used unchanged.

Packages that a build can carry, with their licences:
`;

/** Packages reachable from "dependencies" in the lock file, each once. */
export function carriedPackages() {
  const lock = JSON.parse(readFileSync(join(root, "package-lock.json"), "utf8"));
  const seen = new Map();
  const visit = (name, from) => {
    const path = resolvePath(lock, name, from);
    if (!path || seen.has(path)) return;
    const entry = lock.packages[path];
    seen.set(path, { name, version: entry.version, licence: licenceOf(path, entry) });
    for (const next of Object.keys({ ...entry.dependencies, ...requiredPeers(entry) })) visit(next, path);
  };
  for (const name of Object.keys(lock.packages[""].dependencies)) visit(name, "");
  return [...seen.values()].sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : 0));
}

function requiredPeers(entry) {
  const optional = entry.peerDependenciesMeta ?? {};
  return Object.fromEntries(
    Object.entries(entry.peerDependencies ?? {}).filter(([name]) => !optional[name]?.optional),
  );
}

/** Node's own way: nearest node_modules first, then outwards. */
function resolvePath(lock, name, from) {
  for (let at = from; ; at = at.slice(0, Math.max(0, at.lastIndexOf("/node_modules/")))) {
    const path = `${at ? `${at}/` : ""}node_modules/${name}`;
    if (lock.packages[path]) return path;
    if (!at) return null;
  }
}

function licenceOf(path, entry) {
  if (entry.license) return entry.license;
  const folder = join(root, path);
  const told = JSON.parse(readFileSync(join(folder, "package.json"), "utf8")).license;
  if (typeof told === "string") return told;
  const file = readdirSync(folder).find((name) => /^licen[cs]e/i.test(name));
  const text = file ? readFileSync(join(folder, file), "utf8") : "";
  return /Permission is hereby granted, free of charge/.test(text) ? "MIT by its LICENSE file" : "unknown";
}

export function noticeText() {
  const lines = carriedPackages().map((p) => `  ${p.name} ${p.version} (${p.licence})`);
  return `${HEAD}\n${[...new Set(lines)].join("\n")}\n`;
}

if (process.argv[1]?.endsWith("notice.mjs")) {
  installIfNeeded();
  writeFileSync(join(root, "NOTICE"), noticeText());
}
