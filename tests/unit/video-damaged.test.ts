import { readFileSync } from "node:fs";
import { expect, it } from "vitest";
import { openClip } from "../../src/video/open.ts";

/** Places in a file and the bytes put there, as a fuzzer found them: each held the demuxer for ever, or nearly. */
const found: [what: string, name: string, changes: [at: number, value: number][], cut?: number][] = [
  ["a shift of 3741 million pictures", "plain-60.mp4", [[902, 223]]],
  ["a table of times longer than its box", "plain-60.mp4", [[633, 83]]],
  ["half a thousand million pictures in a chunk", "turned-90.mov", [[3115, 32]]],
  [
    "an element that does not end before the file",
    "open-web.webm",
    [
      [408, 44],
      [2313, 154],
    ],
    4743,
  ],
];

// Outside a browser nothing decodes, so that also what can be opened ends with a sentence.
it.each(found)("a recording with %s is refused with a sentence", async (_, name, changes, cut) => {
  const bytes = new Uint8Array(readFileSync(new URL(`../../fixtures/odd/${name}`, import.meta.url)));
  const part = bytes.slice(0, cut);
  for (const [at, value] of changes) part[at] = value;
  await expect(openClip(new Blob([part]), { fileName: name })).rejects.toThrow(/“.*”.*\.$/);
});
