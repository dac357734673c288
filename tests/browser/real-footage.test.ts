import { existsSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { Told } from "../../src/command/headless.ts";
import { type KnownClip, type Truth, throughThePath } from "../bench/landings/path.ts";

// Footage of real dogs that do anything but cross a row, with poles drawn in by us where poles might lie. Sources:
// `indoor-dog.avi` from the DeepLabCut-live repository's examples, `yard-dogs.mp4` a public object-tracking example.

const FOLDER = "../shared/clips";
const here = existsSync(FOLDER);
if (!here) console.log(`Skipped: no ${FOLDER}, footage that its licences keep out of the project.`);

/** Poles side by side from the left to the right end of a strip of floor, in pixels. */
function rowAcross(near: [number, number, number], far: [number, number, number], gapsM: number[]): Truth {
  const poles = [0, ...gapsM].map((_, n) => {
    const between = ([left, right, y]: [number, number, number]) => ({
      x: left + ((right - left) * n) / gapsM.length,
      y,
    });
    return { near: between(near), far: between(far) };
  });
  return {
    picture: { widthPx: 0, heightPx: 0 },
    marks: { timeS: 0.5, poles, gapsM, poleLengthM: 0.8, poleHeightM: 0 },
    gait: "trot",
    landings: [],
    verdict: null,
  };
}

async function through(name: string, truth: Truth): Promise<Told> {
  const clip: KnownClip = { name, path: join(FOLDER, name), truth };
  const answers: (Told | Error)[] = [];
  await throughThePath([clip], (_, told) => answers.push(told));
  const [told] = answers;
  if (!told || told instanceof Error) throw told ?? new Error("No answer.");
  return told;
}

describe.skipIf(!here)("of real dogs nothing is made up:", () => {
  it("one that stands, sits, lies and jumps on the spot has made no pass", async () => {
    const truth = rowAcross([40, 330, 366], [60, 310, 300], [0.4, 0.4, 0.4, 0.4]);
    const told = await through("indoor-dog.avi", truth);
    expect(told.analysis.dogs?.length).toBeGreaterThan(50);
    expect(told).toMatchObject({ kind: "cannot-tell", hindLandings: 0 });
    expect(told.notes.join(" ")).toContain("no steady pass");
  });

  it("five that play criss-cross in a yard give no verdict", async () => {
    const truth = rowAcross([60, 600, 340], [100, 560, 250], [0.5, 0.5, 0.5, 0.5, 0.5]);
    const told = await through("yard-dogs.mp4", truth);
    expect(told.analysis.dogs?.length).toBeGreaterThan(20);
    expect(told.kind).toBe("cannot-tell");
  });
});
