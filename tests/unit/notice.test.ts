import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { carriedPackages, noticeText } from "../../src/command/notice.mjs";

/** Licences that may stand beside MIT in one site; the GPL decoder is a separate program, see NOTICE. */
const KEPT = /^\(?(MIT|Apache-2\.0|ISC|BSD-2-Clause|BSD-3-Clause|0BSD|MPL-2\.0|Unlicense|CC0-1\.0|BSD)\b/;

describe("NOTICE", () => {
  it("is what `npm run notice` writes from the lock file", () => {
    expect(readFileSync("NOTICE", "utf8")).toBe(noticeText());
  });

  it("names only licences that fit, the separate decoder apart", () => {
    const odd = carriedPackages().filter((p) => p.name !== "@ffmpeg/core" && !KEPT.test(p.licence));
    expect(odd).toEqual([]);
  });

  it("holds no registry address in the lock file", () => {
    expect(readFileSync("package-lock.json", "utf8")).not.toMatch(/"resolved":/);
  });
});
