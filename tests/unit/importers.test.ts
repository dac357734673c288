import { describe, expect, it } from "vitest";
import { importers } from "./importers.ts";

// Many more cases: npm run bench -- field --cases 100000. The bytes of clips are turned over in a browser instead
// (tests/browser/odd-files.test.ts): reading them takes long here.
const quick = importers.filter(({ name }) => name !== "clip: bytes of its container");

describe("whatever comes from outside is taken as it should be or refused with a sentence", () => {
  it.each(quick.map((importer) => [importer.name, importer] as const))("%s", async (_, { fuzz }) => {
    await expect(fuzz(120, 7)).resolves.toBeUndefined();
  });
});
