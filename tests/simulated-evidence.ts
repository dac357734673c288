import type { GaitEvidence } from "../src/gait/evidence.ts";
import type { BodyTrack, Landing, Paw, PawCandidate } from "../src/gait/types.ts";

/** Small, fast, seedable generator (mulberry32), enough for test data. */
export function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function normal(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

export interface SimulatedDog {
  seed: number;
  fps: number;
  stepM: number;
  speedMps: number;
  dutyFactor: number;
  /** Fore touch-down after same-side hind touch-down, share of the stride. */
  limbPhase: number;
  /** Fore print ahead of the hind print that follows it on the same side, metres. */
  understepM: number;
  stepScatter: number;
  direction: 1 | -1;
  wayM: number;
  bodyM: number;
  jitterM: number;
  /** The same across the row; 0.03 unless given. */
  acrossM?: number;
  missing: number;
  invented: number;
  /** Chance that the network takes a hind for a fore paw or the other way round. */
  confused: number;
}

export const steadyTrot: SimulatedDog = {
  seed: 1,
  fps: 60,
  stepM: 0.46,
  speedMps: 1.9,
  dutyFactor: 0.42,
  limbPhase: 0.5,
  understepM: 0,
  stepScatter: 0.03,
  direction: 1,
  wayM: 4.5,
  bodyM: 0.95,
  jitterM: 0.01,
  missing: 0.1,
  invented: 0.05,
  confused: 0.05,
};

export const steadyWalk: SimulatedDog = {
  ...steadyTrot,
  stepM: 0.44,
  speedMps: 0.95,
  dutyFactor: 0.64,
  limbPhase: 0.18,
  understepM: 0.03,
};

/** What a network would see of a dog that crosses, together with the landings that really happened. */
export function simulateEvidence(dog: SimulatedDog): { evidence: GaitEvidence; truth: Landing[] } {
  const random = seeded(dog.seed);
  const strideS = (2 * dog.stepM) / dog.speedMps;
  const durationS = dog.wayM / dog.speedMps;
  const frames = Math.round(durationS * dog.fps);
  const bodyAt = (t: number) => dog.direction * dog.speedMps * t;
  const truth: Landing[] = [];
  // Hind touch-down happens about under the body's middle less a little; fore half a body ahead.
  const steps = Math.ceil(durationS / (strideS / 2)) + 6;
  const hindX: number[] = [];
  for (let n = -4; n < steps; n++) {
    hindX.push(n * dog.stepM - 0.05 * dog.bodyM + dog.stepM * dog.stepScatter * normal(random));
  }
  hindX.forEach((x, i) => {
    const n = i - 4;
    const side = n % 2 === 0 ? "L" : "R";
    const onS = (n * dog.stepM) / dog.speedMps;
    const near = side === (dog.direction > 0 ? "R" : "L");
    const add = (pair: "H" | "F", at: number, from: number) =>
      truth.push({
        id: `${pair}${n}`,
        paw: `${side}${pair}` as Paw,
        onS: from,
        offS: from + dog.dutyFactor * strideS,
        xM: dog.direction * at,
        yM: near ? 0.4 : 0.5,
        xSeM: 0,
        probability: 1,
        source: "automatic",
      });
    add("H", x, onS);
    // The fore foot of this side left the print (one stride less a phase earlier) that this hind foot now meets.
    add("F", x + dog.understepM, onS + (dog.limbPhase - 1) * strideS);
  });
  const candidates: PawCandidate[] = [];
  const body: BodyTrack[] = [];
  const frameTimesS: number[] = [];
  for (let frame = 0; frame < frames; frame++) {
    const timeS = frame / dog.fps;
    frameTimesS.push(timeS);
    body.push({
      frame,
      timeS,
      xM: bodyAt(timeS) + 0.02 * normal(random),
      lengthM: dog.bodyM * (1 + 0.03 * normal(random)),
      score: 0.9,
    });
    const see = (xM: number, yM: number, hind: boolean, contact: number, score: number) => {
      if (random() < dog.missing) return;
      const told = random() < dog.confused ? !hind : hind;
      candidates.push({
        frame,
        timeS,
        xM: xM + dog.jitterM * normal(random),
        yM: yM + (dog.acrossM ?? 0.03) * normal(random),
        score,
        hind: told ? 0.85 : 0.15,
        contact,
        source: "network",
        xSeM: 0.005,
      });
    };
    for (const paw of ["LH", "RH", "LF", "RF"] as const) {
      const own = truth.filter((l) => l.paw === paw).sort((a, b) => a.onS - b.onS);
      const standing = own.find((l) => l.onS <= timeS && timeS < l.offS);
      const next = own.find((l) => l.onS > timeS);
      const last = own.filter((l) => l.offS <= timeS).pop();
      const hind = paw[1] === "H";
      if (standing) see(standing.xM, standing.yM, hind, 0.8, 0.6 + 0.3 * random());
      else if (next && last) {
        const share = (timeS - last.offS) / (next.onS - last.offS);
        const smooth = share * share * (3 - 2 * share);
        see(last.xM + (next.xM - last.xM) * smooth, last.yM - 0.05, hind, 0.3, 0.3 + 0.4 * random());
      }
    }
    if (random() < dog.invented * 4) {
      see(
        bodyAt(timeS) + (random() - 0.5) * 1.2,
        0.3 + 0.3 * random(),
        random() < 0.5,
        0.5,
        0.3 + 0.4 * random(),
      );
    }
  }
  const lastS = frames / dog.fps;
  return {
    evidence: { frameTimesS, candidates, body, xRunsRight: true },
    truth: truth.filter((l) => l.onS >= 0 && l.offS <= lastS).sort((a, b) => a.onS - b.onS),
  };
}

/** Pairs found with true landings of the same pair of feet: in place within 8 cm and overlapping in time. */
export function compareLandings(found: Landing[], truth: Landing[], pair: "H" | "F") {
  const left = found.filter((l) => l.paw[1] === pair && l.probability >= 0.3);
  const errorsM: number[] = [];
  let missed = 0;
  let wrongSide = 0;
  for (const t of truth.filter((l) => l.paw[1] === pair)) {
    const at = left.findIndex((l) => Math.abs(l.xM - t.xM) < 0.08 && l.onS < t.offS && l.offS > t.onS);
    const match = left[at];
    if (!match) {
      missed++;
      continue;
    }
    left.splice(at, 1);
    errorsM.push(match.xM - t.xM);
    if (match.paw !== t.paw) wrongSide++;
  }
  return { matched: errorsM.length, missed, invented: left.length, wrongSide, errorsM };
}
