import { readdirSync, readFileSync, statSync } from "node:fs";
import { dirname, join, relative, resolve } from "node:path";
import { describe, expect, it } from "vitest";

/** Which folders of src may import which others; a folder may always import itself. See DEVELOPERS.md. */
const MAY_IMPORT: Record<string, string[]> = {
  stats: [],
  ground: ["stats"],
  gait: ["stats", "ground"],
  spacing: ["stats", "gait"],
  video: [],
  paws: ["video"],
  pipeline: ["stats", "ground", "gait", "spacing", "video", "paws"],
  store: ["stats", "ground", "gait", "spacing", "video", "pipeline"],
  charts: ["stats", "gait", "spacing", "store"],
  report: ["stats", "ground", "gait", "spacing", "video", "pipeline", "store", "charts"],
  app: [
    "stats",
    "ground",
    "gait",
    "spacing",
    "video",
    "paws",
    "pipeline",
    "store",
    "charts",
    "report",
    "assets",
  ],
  command: ["stats", "ground", "gait", "spacing", "video", "paws", "pipeline", "charts", "report"],
};
/** From these, only types may be taken. */
const TYPES_ONLY: Record<string, string[]> = {
  store: ["stats", "ground", "gait", "spacing", "video", "pipeline"],
  charts: ["gait", "store"],
};
const PURE = ["stats", "ground", "gait", "spacing"];

interface Import {
  file: string;
  from: string;
  to: string;
  specifier: string;
  typeOnly: boolean;
}

function sources(folder: string): string[] {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) return name === "node_modules" ? [] : sources(path);
    return /\.(ts|tsx|mjs)$/.test(name) ? [path] : [];
  });
}

function importsOf(path: string): Import[] {
  const text = readFileSync(path, "utf8");
  const found = [
    ...text.matchAll(/(?:^|\n)\s*(import|export)\s+(type\s+)?(?:[^"';]*?\sfrom\s+)?"([^"]+)"/g),
  ].map((m) => ({ specifier: m[3]!, typeOnly: Boolean(m[2]) }));
  const lazy = [...text.matchAll(/import\(\s*"([^"]+)"\s*\)/g)].map((m) => ({
    specifier: m[1]!,
    typeOnly: false,
  }));
  return [...found, ...lazy].map((i) => ({
    file: relative("src", path),
    from: relative("src", path).split("/")[0]!,
    to: i.specifier.startsWith(".")
      ? relative("src", resolve(dirname(path), i.specifier)).split("/")[0]!
      : "package",
    ...i,
  }));
}

const all = sources("src").flatMap(importsOf);

describe("imports run one way", () => {
  it("finds imports to look at", () => {
    expect(all.length).toBeGreaterThan(50);
  });

  it("from every folder only into folders it may know", () => {
    const wrong = all.filter(
      (i) =>
        i.to !== "package" &&
        i.to !== ".." &&
        i.from in MAY_IMPORT &&
        i.to !== i.from &&
        !MAY_IMPORT[i.from]!.includes(i.to),
    );
    expect(wrong.map((i) => `${i.file} imports ${i.specifier}`)).toEqual([]);
  });

  it("takes types only where no more is allowed", () => {
    const wrong = all.filter((i) => TYPES_ONLY[i.from]?.includes(i.to) && !i.typeOnly);
    expect(wrong.map((i) => `${i.file} imports ${i.specifier}`)).toEqual([]);
  });

  it("keeps the core free of page, network and screen", () => {
    const core = sources("src").filter((p) => PURE.includes(relative("src", p).split("/")[0]!));
    const offenders = core.filter((path) =>
      /\b(document|window|navigator|HTMLElement|OffscreenCanvas|localStorage|indexedDB)\b\s*[.(]|from "(react|@tensorflow)/.test(
        readFileSync(path, "utf8"),
      ),
    );
    expect(offenders).toEqual([]);
  });

  it("has a known owner for every folder of src", () => {
    const folders = readdirSync("src").filter((n) => statSync(join("src", n)).isDirectory());
    expect(folders.filter((f) => !(f in MAY_IMPORT) && f !== "assets" && f !== "node_modules")).toEqual([]);
  });
});
