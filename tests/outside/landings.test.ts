import { existsSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { findLandings } from "../../src/gait/landings.ts";
import type { BodyTrack, PawCandidate } from "../../src/gait/types.ts";
import { normal, seeded } from "../simulated-evidence.ts";

/**
 * One motion-captured dog on flat ground (AI4Animation; Zhang, Starke, Komura, Saito, ACM TOG 2018; files as
 * published in the motion_imitation research repository, CC BY-NC 4.0, therefore not shipped here). Hind contact
 * places in metres along the way, as worked out from the toe tracks with a 0.6 m/s stance threshold.
 */
const MOCAP = "../shared/mocap";
const TROT = {
  file: "walk04.txt",
  frames: [300, 547] as const,
  hind: [
    2.663, 3.134, 3.563, 4.123, 4.616, 5.108, 5.572, 6.038, 6.539, 7.048, 7.562, 8.051, 8.501, 8.974, 9.431,
    9.893,
  ],
  strideM: 0.965,
  strideS: 0.492,
  speedMps: 1.966,
};
const PACE = {
  file: "walk00.txt",
  frames: [130, 480] as const,
  hind: [
    1.405, 1.766, 2.089, 2.459, 2.784, 3.162, 3.473, 3.824, 4.144, 4.509, 4.891, 5.297, 5.614, 5.97, 6.29,
    6.664, 7.016,
  ],
  strideM: 0.701,
  strideS: 0.622,
  speedMps: 1.131,
};
const TOES = { RF: 10, RH: 19, LF: 15, LH: 23 } as const;

/** Turns the capture into what a network might have seen of it; noise as given. */
function evidenceFrom(
  clip: typeof TROT | typeof PACE,
  noise: { jitterM: number; missing: number; seed: number },
) {
  const rows = readFileSync(`${MOCAP}/${clip.file}`, "utf8")
    .trim()
    .split("\n")
    .slice(clip.frames[0], clip.frames[1] + 1)
    .map((line) => line.split(/[\s,]+/).map(Number));
  const joint = (row: number[], id: number) => [row[3 * id]!, row[3 * id + 1]!, row[3 * id + 2]!] as const;
  const start = joint(rows[0]!, 0);
  const end = joint(rows[rows.length - 1]!, 0);
  const length = Math.hypot(end[0] - start[0], end[2] - start[2]);
  const [ux, uz] = [(end[0] - start[0]) / length, (end[2] - start[2]) / length];
  const along = (p: readonly [number, number, number]) => p[0] * ux + p[2] * uz;
  const across = (p: readonly [number, number, number]) => -(p[0] - start[0]) * uz + (p[2] - start[2]) * ux;
  const random = seeded(noise.seed);
  const candidates: PawCandidate[] = [];
  const body: BodyTrack[] = [];
  const frameTimesS: number[] = [];
  rows.forEach((row, frame) => {
    const timeS = frame / 60;
    frameTimesS.push(timeS);
    const middle = (along(joint(row, 0)) + along(joint(row, 3))) / 2;
    body.push({ frame, timeS, xM: middle, lengthM: 0.9, score: 1 });
    for (const [paw, id] of Object.entries(TOES)) {
      if (random() < noise.missing) continue;
      const p = joint(row, id);
      candidates.push({
        frame,
        timeS,
        xM: along(p) + noise.jitterM * normal(random),
        yM: across(p) + noise.jitterM * normal(random),
        score: 0.8,
        hind: paw[1] === "H" ? 0.8 : 0.2,
        contact: 0.5,
        source: "network",
        xSeM: 0.005,
      });
    }
  });
  return { frameTimesS, candidates, body, xRunsRight: true };
}

describe.each([
  ["trot", TROT],
  ["pace", PACE],
] as const)("a motion-captured dog at the %s", (_gait, clip) => {
  if (!existsSync(`${MOCAP}/${clip.file}`)) {
    it.skip("skipped: the capture files are not here (their licence keeps them out of the project)", () => {});
    return;
  }
  it.each([
    ["clean", { jitterM: 0, missing: 0, seed: 1 }, 0.015, 0],
    ["2 cm of jitter and 30 % missing", { jitterM: 0.02, missing: 0.3, seed: 2 }, 0.04, 1],
  ] as const)("leaves the published steps, stride time and speed (%s)", (_name, noise, placeM, missed) => {
    const { passes } = findLandings(evidenceFrom(clip, noise));
    expect(passes).toHaveLength(1);
    const pass = passes[0]!;
    const hind = pass.landings.filter((l) => l.paw[1] === "H");
    // Tolerances of the source's own derivation: speed 3 %, stride time 0.02 s, stride 0.015 m.
    expect(pass.speedMps / clip.speedMps).toBeGreaterThan(0.97);
    expect(pass.speedMps / clip.speedMps).toBeLessThan(1.03);
    expect(Math.abs(pass.strideTimeS! - clip.strideS)).toBeLessThan(0.02);
    const strides = hind.flatMap((l, i) => {
      const next = hind.slice(i + 1).find((n) => n.paw === l.paw);
      const oneStride = next && next.onS - l.onS < 1.5 * clip.strideS;
      return oneStride ? [next.xM - l.xM] : [];
    });
    const mean = strides.reduce((a, b) => a + b, 0) / strides.length;
    expect(Math.abs(mean - clip.strideM)).toBeLessThan(0.015);
    const matched = clip.hind.map((xM, i) => {
      const near = hind.find((h) => Math.abs(h.xM - xM) < placeM);
      // Both published lists begin with the left hind foot and alternate.
      return near ? near.paw === (i % 2 === 0 ? "LH" : "RH") : null;
    });
    expect(matched.filter((m) => m === null).length).toBeLessThanOrEqual(missed);
    expect(matched).not.toContain(false);
  });
});
