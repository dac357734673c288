import { afterAll, beforeAll, expect, it } from "vitest";
import { buildIfNeeded } from "../../src/command/prepare.mjs";
import { serveSite } from "../../src/command/site.mjs";
import { killAndCompare } from "./field/kills.ts";

let site: Awaited<ReturnType<typeof serveSite>>;

beforeAll(async () => {
  buildIfNeeded();
  site = await serveSite();
});

afterAll(async () => {
  await site?.close();
});

// The same with 200 kills: npm run bench -- field --kills 200
it("loses nothing of a clip's work when its page is killed at any step of the path", async () => {
  const kills = Number(process.env.PAWGAP_KILLS ?? 3);
  const report = await killAndCompare({
    siteUrl: site.url,
    kills,
    seed: 20,
    onKill: process.env.PAWGAP_KILLS ? console.log : undefined,
  });
  expect(report.lost).toEqual([]);
  expect(report.kills).toBe(kills);
});
