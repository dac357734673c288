import { describe, expect, it } from "vitest";
import { importers } from "./importers.ts";

// Many more cases: npm run bench -- field --cases 100000
describe("whatever comes from outside is taken as it should be or refused with a sentence", () => {
  it.each(importers.map((importer) => [importer.name, importer] as const))("%s", async (_, { fuzz }) => {
    await expect(fuzz(120, 7)).resolves.toBeUndefined();
  });
});
