import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Landing, Pass } from "../../src/gait/types.ts";
import { judge } from "../../src/spacing/judge.ts";
import { placeLandings } from "../../src/spacing/place.ts";
import type { JudgeRequest, Layout } from "../../src/spacing/types.ts";
import { ordinary, simulateSession } from "../simulated-sessions.ts";

const STEP_TIME_S = 0.24;

interface PassOptions {
  id?: string;
  direction?: 1 | -1;
  lengthM?: number;
  speedMps?: number;
  gait?: Pass["gait"];
  accelerationMps2?: number;
}

/** A pass with hind landings at these places along the dog's way from the first pole it meets, left and right in turn. */
function passOf(alongM: readonly number[], options: PassOptions = {}): Pass {
  const {
    id = "a",
    direction = 1,
    lengthM = 0,
    speedMps = 1.9,
    gait = "trot",
    accelerationMps2 = 0,
  } = options;
  const landings = alongM.map(
    (u, i): Landing => ({
      id: `${id}${i}`,
      paw: i % 2 === 0 ? "LH" : "RH",
      onS: i * STEP_TIME_S,
      offS: i * STEP_TIME_S + 0.14,
      xM: direction === 1 ? u : lengthM - u,
      yM: 0.3,
      xSeM: 0.005,
      probability: 0.95,
      source: "automatic",
    }),
  );
  return {
    id,
    startS: 0,
    endS: alongM.length * STEP_TIME_S,
    direction,
    landings,
    speedMps,
    accelerationMps2,
    gait,
    strideTimeS: null,
    limbPhase: null,
    dutyFactor: null,
  };
}

/** Steps with a little life in them: landings at start + step·i, each off by up to a centimetre. */
function steps(startM: number, stepM: number, count: number, shift = 0): number[] {
  const off = [0.004, -0.006, 0.007, -0.003, 0.005, -0.008, 0.002, 0.006, -0.004];
  return Array.from({ length: count }, (_, i) => startM + stepM * i + off[(i + shift) % off.length]!);
}

function evenRow(gapM: number, gaps = 5): Layout {
  const gapsM = Array.from({ length: gaps }, () => gapM);
  return { gapsM, heightsM: [], targetFractions: gapsM.map(() => 0.5) };
}

function request(layout: Layout, passes: Pass[], more: Partial<JudgeRequest> = {}): JudgeRequest {
  return { layout, passes, aim: "first-poles", gait: "trot", ...more };
}

/** Three passes over five gaps, both ways, with this step and this start. */
function threePasses(gapM: number, stepM: number, startM = gapM / 2 - stepM): Pass[] {
  const count = Math.ceil((5.5 * gapM - startM) / stepM) + 1;
  return [0, 1, 2].map((p) =>
    passOf(steps(startM, stepM, count, 2 * p), {
      id: `p${p}-`,
      direction: p % 2 === 0 ? 1 : -1,
      lengthM: 5 * gapM,
    }),
  );
}

describe("placing landings", () => {
  const layout = evenRow(0.5, 2);

  test("gap, offset and share of every landing, hind and fore", () => {
    const pass = passOf([-0.2, 0.25, 0.6, 1.2]);
    pass.landings[1]!.paw = "LF";
    const placed = placeLandings(pass, layout);
    expect(placed.map((l) => l.place)).toEqual(["approach", "row", "row", "leaving"]);
    expect(placed.map((l) => l.gap)).toEqual([null, 0, 1, null]);
    expect(placed[1]!.offsetM).toBeCloseTo(0, 12);
    expect(placed[2]!.offsetM).toBeCloseTo(-0.15, 12);
    expect(placed[2]!.gapFraction).toBeCloseTo(0.2, 12);
  });

  test("the other way the last pole comes first", () => {
    const placed = placeLandings(passOf([-0.2, 0.25, 1.2], { direction: -1, lengthM: 1 }), layout);
    expect(placed.map((l) => l.place)).toEqual(["approach", "row", "leaving"]);
    expect(placed[1]!.gap).toBe(1);
  });

  test("a landing at a pole belongs to the gap beyond it", () => {
    expect(placeLandings(passOf([0.5]), layout)[0]!.gap).toBe(1);
  });

  test("where a pole had been pushed aside before the dog came, offsets count in the row it faced", () => {
    const [first, second] = placeLandings(passOf([0.25, 0.78]), layout, [0, 0.06, 0]);
    expect(first).toMatchObject({ gap: 0 });
    expect(first!.offsetM).toBeCloseTo(-0.03, 9);
    expect(first!.gapFraction).toBeCloseTo(0.25 / 0.56, 9);
    expect(second).toMatchObject({ gap: 1 });
    expect(second!.offsetM).toBeCloseTo(0, 9);
    const [near] = placeLandings(passOf([0.53]), layout, [0, 0.06, 0]);
    expect(near).toMatchObject({ gap: 0 });
  });

  test("a row without a gap is refused in a sentence", () => {
    expect(() => judge(request({ ...layout, gapsM: [] }, []))).toThrow(/two poles or more/);
    expect(() => judge(request({ ...layout, gapsM: [0.5, 0] }, [passOf([0.2])]))).toThrow(/Gap 2/);
  });
});

describe("verdicts", () => {
  test("steps as long as the gaps fit", () => {
    const { verdict, stepM, creepMPerGap, meanFraction } = judge(
      request(evenRow(0.45), threePasses(0.45, 0.45)),
    );
    expect(verdict.kind).toBe("fits");
    expect(verdict.spacingM).toBeCloseTo(0.45, 9);
    expect(stepM!.value).toBeCloseTo(0.45, 2);
    expect(creepMPerGap!.value).toBeCloseTo(0, 2);
    expect(meanFraction!).toBeCloseTo(0.5, 1);
    expect(verdict.confidence).toBeGreaterThan(0.9);
  });

  test("longer steps: too close, with centimetres and the new spacing in the sentence", () => {
    const { verdict } = judge(request(evenRow(0.41), threePasses(0.41, 0.45)));
    expect(verdict.kind).toBe("too-close");
    expect(verdict.sentence).toBe(
      "Poles are about 4 cm too close: hind landings creep 4.0 cm per gap towards the next pole.",
    );
    expect(verdict.spacingM).toBeCloseTo(0.45, 9);
    expect(verdict.intervalM![0]).toBeLessThan(0.45);
    expect(verdict.intervalM![1]).toBeGreaterThan(0.45);
  });

  test("a camera that knows lengths to 3 % only: the same landings tell nothing for sure", () => {
    const passes = threePasses(0.45, 0.475);
    const sure = judge(request(evenRow(0.45), passes));
    expect(sure.verdict.kind).toBe("too-close");
    const scaleSe = Object.fromEntries(passes.map((p) => [p.id, 0.03]));
    const unsure = judge(request(evenRow(0.45), passes, { scaleSe }));
    expect(unsure.verdict.kind).toBe("cannot-tell");
    expect(unsure.stepM!.value).toBeCloseTo(sure.stepM!.value, 9);
    expect(unsure.stepM!.interval[1] - unsure.stepM!.interval[0]).toBeGreaterThan(0.05);
  });

  test("shorter steps: too far apart, in inches where inches are wanted", () => {
    const { verdict } = judge(request(evenRow(0.49), threePasses(0.49, 0.45), { units: "in" }));
    expect(verdict.kind).toBe("too-far");
    expect(verdict.sentence).toMatch(
      /^Poles are about 1½ in too far apart: hind landings drop back 1\.6 in per gap\.$/,
    );
    // Laid in half inches.
    expect((verdict.spacingM! / 0.0127) % 1).toBeCloseTo(0, 3);
  });

  test("one change moves the poles by 5 cm or 10 % at most, and says what the landings ask for", () => {
    const { verdict } = judge(request(evenRow(0.36), threePasses(0.36, 0.45)));
    expect(verdict.kind).toBe("too-close");
    expect(verdict.spacingM).toBeCloseTo(0.39, 9);
    expect(verdict.fitSpacingM!).toBeCloseTo(0.45, 2);
    expect(verdict.nextTime).toMatch(/39 cm apart.*about 45 cm.*a little at a time/);
  });

  test("steady but past the middle: the same spacing from a start farther off", () => {
    const { verdict } = judge(request(evenRow(0.45), threePasses(0.45, 0.45, 0.45 / 2 + 0.12 - 0.45)));
    expect(verdict.kind).toBe("fits-move-start");
    expect(verdict.moveStartM).toBeCloseTo(0.12, 9);
    expect(verdict.sentence).toMatch(/set off 12 cm farther from the first pole/);
  });

  test("steady but short of the middle: nearer", () => {
    const { verdict } = judge(request(evenRow(0.45), threePasses(0.45, 0.45, 0.45 / 2 - 0.12 - 0.45)));
    expect(verdict.kind).toBe("fits-move-start");
    expect(verdict.moveStartM).toBeCloseTo(-0.12, 9);
  });

  test("landings by a target that is not the middle need no new start", () => {
    const layout = { ...evenRow(0.45), targetFractions: [0.7, 0.7, 0.7, 0.7, 0.7] };
    const passes = [0, 1].map((p) => passOf(steps(0.45 * 0.7 - 0.45, 0.45, 7, p), { id: `p${p}` }));
    expect(judge(request(layout, passes)).verdict.kind).toBe("fits");
  });

  test("an uneven row whose targets are all met fits", () => {
    const gapsM = [0.4, 0.5, 0.42, 0.48, 0.45, 0.5];
    const layout = { gapsM, heightsM: [], targetFractions: gapsM.map(() => 0.5) };
    let pole = 0;
    const middles = gapsM.map((gap) => {
      pole += gap;
      return pole - gap / 2;
    });
    const wobble = [0.004, -0.006, 0.007, -0.003, 0.005, -0.008];
    const passes = [0, 1, 2].map((p) =>
      passOf(
        middles.map((m, i) => m + wobble[(i + p) % 6]!),
        { id: `p${p}` },
      ),
    );
    const judged = judge(request(layout, passes, { aim: "careful-feet" }));
    expect(judged.verdict.kind).toBe("fits");
    expect(judged.passes[0]!.hindPerGap).toEqual([1, 1, 1, 1, 1, 1]);
  });

  test("one row of 2.743 m is called three, two and one landings per gap (rule of thumb among riders)", () => {
    for (const [stepM, perGap] of [
      [2.743 / 3, 3],
      [2.743 / 2, 2],
      [2.743, 1],
    ] as const) {
      const judged = judge(request(evenRow(2.743), threePasses(2.743, stepM, stepM / 2)));
      expect(judged.passes[0]!.hindPerGap).toEqual(Array(5).fill(perGap));
      expect(judged.verdict.kind).toBe(perGap === 1 ? "fits" : "two-steps");
    }
  });

  test("real two-gap steps are gaps stepped over", () => {
    const { verdict, passes } = judge(request(evenRow(0.25, 8), threePasses(0.25, 0.5, -0.37)));
    expect(verdict.kind).toBe("stepped-over");
    expect(passes[0]!.hindPerGap).toContain(0);
  });

  test("fewer than four hind landings: nothing is told", () => {
    const { verdict } = judge(request(evenRow(0.45), [passOf([0.2, 0.65, 1.1])]));
    expect(verdict.kind).toBe("cannot-tell");
    expect(verdict.sentence).toMatch(/3 hind landings/);
    expect(verdict.spacingM).toBeNull();
  });

  test("no passes at all is a verdict too", () => {
    expect(judge(request(evenRow(0.45), [])).verdict.kind).toBe("cannot-tell");
  });

  test("one short pass asks for more of them", () => {
    const { request: one } = simulateSession({ ...ordinary, passes: 1, spacingError: 0.04 }, 5);
    const { verdict } = judge(one);
    expect(verdict.kind).toBe("cannot-tell");
    expect(verdict.morePasses).toBeGreaterThanOrEqual(1);
    expect(verdict.sentence).toMatch(/film about \d more pass/);
  });

  test("steps that jump about give no spacing", () => {
    const wild = [0.1, 0.5, 0.33, 0.62, 0.4, 0.25, 0.58];
    const passes = [0, 1, 2].map((p) => {
      let u = -0.3;
      const places = Array.from({ length: 8 }, (_, i) => {
        const here = u;
        u += 0.25 + wild[(i + p) % wild.length]! * 0.5;
        return here;
      });
      return passOf(places, { id: `w${p}` });
    });
    const { verdict } = judge(request(evenRow(0.45), passes));
    expect(verdict.kind).toBe("not-steady");
    expect(verdict.spacingM).toBeNull();
  });
});

describe("all feet in each gap", () => {
  const asked = { aim: "one-at-a-time", gait: "walk", bodyLengthM: 0.6 } as const;
  const walk = (passes: Pass[]) => passes.map((p) => ({ ...p, gait: "walk" as const }));

  test("room for both hind feet fits", () => {
    const { verdict } = judge(request(evenRow(0.95), walk(threePasses(0.95, 0.45, 0.1)), asked));
    expect(verdict.kind).toBe("fits");
  });

  test("a stride longer than the gap: too close", () => {
    const { verdict } = judge(request(evenRow(0.75), walk(threePasses(0.75, 0.45, 0.1)), asked));
    expect(verdict.kind).toBe("too-close");
    expect(verdict.sentence).toMatch(/whole stride is 90 cm, longer than the 75 cm gap/);
    expect(verdict.spacingM).toBeGreaterThan(0.75);
  });

  test("room for a second stride: too far", () => {
    const { verdict } = judge(request(evenRow(1.9), walk(threePasses(1.9, 0.45, 0.1)), asked));
    expect(verdict.kind).toBe("too-far");
  });
});

describe("landings that are not there, or wrongly named", () => {
  const layout = evenRow(0.45);

  test("a missed landing is no gap stepped over", () => {
    const passes = threePasses(0.45, 0.45).map((p) => ({
      ...p,
      landings: p.landings.filter((_, i) => i !== 3),
    }));
    const { verdict, notes, passes: judged } = judge(request(layout, passes));
    expect(verdict.kind).toBe("fits");
    expect(judged[0]!.hindPerGap).toEqual([1, 1, 0, 1, 1]);
    expect(notes.join(" ")).toMatch(/3 hind landings went unseen/);
  });

  test("one hind foot never seen: its alternate gaps are not stepped over", () => {
    const passes = threePasses(0.45, 0.45).map((p) => ({
      ...p,
      landings: p.landings.filter((l) => l.paw === "LH"),
    }));
    const { verdict, stepM } = judge(request(layout, passes));
    expect(verdict.kind).not.toBe("stepped-over");
    expect(stepM!.value).toBeCloseTo(0.45, 1);
  });

  test("an invented landing is no second step", () => {
    const passes = threePasses(0.45, 0.45).map((p) => {
      const near = p.landings[3]!;
      const false1: Landing = {
        ...near,
        id: `${near.id}x`,
        xM: near.xM + 0.2,
        onS: near.onS + 0.1,
        probability: 0.5,
      };
      return { ...p, landings: [...p.landings, false1] };
    });
    const { verdict, notes } = judge(request(layout, passes));
    expect(verdict.kind).toBe("fits");
    expect(verdict.restsOn.some((id) => id.endsWith("x"))).toBe(false);
    expect(notes.join(" ")).toMatch(/out of step/);
  });

  test("unlikely landings do not count, doubtful ones are named", () => {
    const passes = threePasses(0.45, 0.45);
    passes[0]!.landings[2]!.probability = 0.2;
    passes[1]!.landings[2]!.probability = 0.5;
    const judged = judge(request(layout, passes));
    expect(judged.verdict.restsOn).not.toContain(passes[0]!.landings[2]!.id);
    expect(judged.passes[0]!.hindPerGap).toEqual([1, 0, 1, 1, 1]);
    expect(judged.notes.join(" ")).toMatch(/1 landing is doubtful and counts half/);
    expect(judged.notes.join(" ")).toMatch(/1 landing is too doubtful to count/);
  });

  test("a swapped label moves nothing", () => {
    const passes = threePasses(0.45, 0.45);
    const before = judge(request(layout, passes));
    passes[0]!.landings[3]!.paw = passes[0]!.landings[3]!.paw === "LH" ? "RH" : "LH";
    const after = judge(request(layout, passes));
    expect(after.verdict.kind).toBe(before.verdict.kind);
    expect(after.stepM!.value).toBeCloseTo(before.stepM!.value, 9);
  });
});

describe("what must not matter", () => {
  test("direction of travel, order of passes, where the row lies in time", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1e6 }),
        fc.constantFrom(-0.1, -0.05, 0, 0.05, 0.1),
        (seed, spacingError) => {
          const { request: one } = simulateSession({ ...ordinary, spacingError }, seed);
          const lengthM = one.layout.gapsM.reduce((a, b) => a + b, 0);
          const mirrored = one.passes.map((p) => ({
            ...p,
            direction: p.direction === 1 ? (-1 as const) : (1 as const),
            landings: p.landings.map((l) => ({ ...l, xM: lengthM - l.xM })),
          }));
          const plain = judge(one, { resamples: 20 });
          for (const passes of [mirrored, one.passes.toReversed()]) {
            const other = judge({ ...one, passes }, { resamples: 20 });
            expect(other.verdict.kind).toBe(plain.verdict.kind);
            expect(other.stepM!.value).toBeCloseTo(plain.stepM!.value, 9);
            expect(other.scatter!).toBeCloseTo(plain.scatter!, 9);
          }
        },
      ),
      { numRuns: 60 },
    );
  });

  test("size: a row and a dog half as large again give the same shares", () => {
    const { request: one } = simulateSession({ ...ordinary, spacingError: 0.08 }, 77);
    const larger: JudgeRequest = {
      ...one,
      layout: { ...one.layout, gapsM: one.layout.gapsM.map((g) => 1.5 * g) },
      passes: one.passes.map((p) => ({
        ...p,
        speedMps: 1.5 * p.speedMps,
        landings: p.landings.map((l) => ({ ...l, xM: 1.5 * l.xM, xSeM: 1.5 * l.xSeM })),
      })),
    };
    const [small, large] = [judge(one), judge(larger)];
    expect(large.stepM!.value).toBeCloseTo(1.5 * small.stepM!.value, 9);
    expect(large.verdict.kind).toBe(small.verdict.kind);
    expect(large.verdict.confidence).toBeCloseTo(small.verdict.confidence, 9);
  });

  test("asked twice, it says the same", () => {
    const { request: one } = simulateSession(ordinary, 3);
    expect(judge(one)).toEqual(judge(one));
  });
});

describe("passes that do not count", () => {
  const layout = evenRow(0.45);

  test("another gait, another speed, a speed that changes: set aside with the reason", () => {
    const passes = [...threePasses(0.45, 0.45), ...threePasses(0.45, 0.45)].map((p, i) => ({
      ...p,
      id: `q${i}`,
    }));
    passes[0]!.gait = "canter";
    passes[1]!.speedMps = 2.4;
    passes[2]!.accelerationMps2 = 0.9;
    const judged = judge(request(layout, passes));
    expect(judged.passes.map((p) => p.used)).toEqual([false, false, false, true, true, true]);
    expect(judged.passes[0]!.setAside).toMatch(/cantered/);
    expect(judged.passes[1]!.setAside).toMatch(/2\.40 m\/s.*faster/);
    expect(judged.passes[2]!.setAside).toMatch(/sped up/);
    expect(judged.verdict.kind).toBe("fits");
    expect(judged.notes.join(" ")).toMatch(/3 of 6 passes do not count/);
  });

  test("a walk is kept within an eighth of its usual speed, not within ±0.3 m/s", () => {
    const passes = [...threePasses(0.45, 0.45), ...threePasses(0.45, 0.45)].map((p, i) => ({
      ...p,
      id: `q${i}`,
      gait: "walk" as const,
      speedMps: 0.8,
    }));
    passes[0]!.speedMps = 0.95;
    const judged = judge(request(layout, passes, { gait: "walk" }));
    expect(judged.passes[0]!.setAside).toMatch(/faster/);
  });

  test("a person has the last word: a pass kept in counts, and everyone is told", () => {
    const passes = [...threePasses(0.45, 0.45), ...threePasses(0.45, 0.45)].map((p, i) => ({
      ...p,
      id: `q${i}`,
    }));
    passes[1]!.speedMps = 2.4;
    const alone = judge(request(layout, passes));
    const kept = judge(
      request(layout, passes, { decisions: { q1: { use: true, reason: "Its usual speed" } } }),
    );
    expect(alone.passes[1]).toMatchObject({ used: false, keptDespite: null });
    expect(kept.passes[1]).toMatchObject({ used: true, setAside: null });
    expect(kept.passes[1]!.keptDespite).toMatch(/2\.40 m\/s.*faster/);
    expect(kept.stepM!.n).toBeGreaterThan(alone.stepM!.n);
    expect(kept.notes.join(" ")).toMatch(/Pass 2 was kept in by hand \(Its usual speed\).*2\.40 m\/s/);
    expect(judge(request(layout, passes, { decisions: {} }))).toEqual(alone);
  });

  test("a pass set aside by hand counts no more, nor has it a say in the usual speed", () => {
    const passes = threePasses(0.45, 0.45).map((p, i) => ({
      ...p,
      id: `q${i}`,
      speedMps: [1.3, 1.3, 2][i]!,
    }));
    const decisions = { q0: { use: false, reason: "Looked away" } };
    const judged = judge(request(layout, passes, { decisions }));
    // Without the first, two are left, of which neither can be told from the usual one.
    expect(judged.passes.map((p) => p.used)).toEqual([false, true, true]);
    expect(judged.passes[0]!.setAside).toBe("Set aside by hand: Looked away.");
    expect(judge(request(layout, passes)).passes[2]!.used).toBe(false);
  });

  test("with every pass set aside by hand nothing is said of how steady the dog was", () => {
    const passes = threePasses(0.45, 0.45);
    const decisions = Object.fromEntries(passes.map((p) => [p.id, { use: false, reason: "" }]));
    const judged = judge(request(layout, passes, { decisions }));
    expect(judged.verdict.kind).toBe("cannot-tell");
    expect(judged.passes[0]!.setAside).toBe("Set aside by hand.");
  });

  test("a pass without landings between the poles cannot be kept in", () => {
    const passes = threePasses(0.45, 0.45).map((p, i) => ({ ...p, id: `q${i}` }));
    passes[1]!.landings = [];
    passes[1]!.gait = "canter";
    const judged = judge(request(layout, passes, { decisions: { q1: { use: true, reason: "" } } }));
    expect(judged.passes[1]).toMatchObject({ used: false, keptDespite: null });
    expect(judged.passes[1]!.setAside).toMatch(/Fewer than two/);
  });

  test("when no pass was steady, that is the verdict", () => {
    const passes = threePasses(0.45, 0.45).map((p) => ({ ...p, accelerationMps2: 1.5 }));
    const { verdict } = judge(request(layout, passes));
    expect(verdict.kind).toBe("not-steady");
    expect(verdict.sentence).toMatch(/one steady speed and gait/);
  });
});

describe("beyond the spacing", () => {
  test("a dog that stretches to fit is told from one that fits", () => {
    // Ten landings on the way in at 45 cm, then 49 cm over the poles.
    const passes = [0, 1, 2].map((p) => {
      const way = steps(0.245 - 5 * 0.45, 0.45, 5, p);
      const row = steps(0.245, 0.49, 6, p + 3);
      return passOf([...way, ...row], { id: `s${p}` });
    });
    const { verdict, ownStep } = judge(request(evenRow(0.49), passes));
    expect(verdict.kind).toBe("fits");
    expect(Math.abs(ownStep!.stretchPercent.value - 100 * (0.49 / 0.45 - 1))).toBeLessThan(1);
    expect(ownStep!.stretchPercent.interval[0]).toBeGreaterThan(0);
    expect(ownStep!.sentence).toMatch(/reaches [89] % further than its free step/);
  });

  test("left and right apart, with the smallest change that would be real", () => {
    const places = (p: number) => {
      let u = -0.2;
      return Array.from({ length: 8 }, (_, i) => {
        const here = u + [0.002, -0.003, 0.001][(i + p) % 3]!;
        // The next landing is a right one after a left one.
        u += i % 2 === 0 ? 0.48 : 0.42;
        return here;
      });
    };
    const passes = [0, 1, 2].map((p) => passOf(places(p), { id: `l${p}` }));
    const { leftRight, notes } = judge(request(evenRow(0.45), passes));
    expect(leftRight!.differencePercent.value).toBeCloseTo((100 * 0.06) / 0.45, -0.5);
    expect(leftRight!.smallestRealPercent).toBeGreaterThan(0);
    expect(leftRight!.sentence).toMatch(/right hind foot are 1[34] % longer/);
    expect(notes.join(" ")).toMatch(/Film the other way too/);
  });

  test("knocks that follow one another are a reason to stop", () => {
    const passes = threePasses(0.45, 0.45);
    const { notes, passes: judged } = judge(
      request(evenRow(0.45), passes, { knocks: { "p0-": [2], "p1-": [3] } }),
    );
    expect(notes[0]).toMatch(/2 poles were knocked\. Knocks follow one another: stop/);
    expect(judged[0]!.knocks).toEqual([2]);
    expect(judged[0]!.knocksPerGap).toEqual([0, 0, 1, 0, 0]);
    expect(judged[1]!.knocksPerGap).toEqual([0, 0, 1, 0, 0]);
  });

  test("steps that shorten from pass to pass are a sign of fatigue", () => {
    const passes = [0.46, 0.45, 0.44, 0.43, 0.42].map((stepM, p) =>
      passOf(steps(0.22 - stepM, stepM, 7, p), { id: `t${p}` }),
    );
    expect(judge(request(evenRow(0.45), passes)).notes.join(" ")).toMatch(
      /shortens from pass to pass.*fresh/,
    );
  });
});

test("one confidence, one set of landings, one next step for every verdict", () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 1e6 }),
      fc.double({ min: -0.4, max: 0.9, noNaN: true }),
      fc.integer({ min: 1, max: 5 }),
      fc.constantFrom(0.02, 0.06, 0.15),
      (seed, spacingError, passes, scatter) => {
        const { request: one } = simulateSession({ ...ordinary, spacingError, passes, scatter }, seed);
        const { verdict } = judge(one, { resamples: 30 });
        expect(verdict.confidence).toBeGreaterThanOrEqual(0);
        expect(verdict.confidence).toBeLessThanOrEqual(1);
        expect(verdict.sentence).toMatch(/^[A-Z].*\.$/);
        expect(`${verdict.sentence} ${verdict.evidence} ${verdict.nextTime}`).not.toMatch(
          /NaN|undefined|null|Infinity/,
        );
        const ids = new Set(one.passes.flatMap((p) => p.landings.map((l) => l.id)));
        expect(verdict.restsOn.every((id) => ids.has(id))).toBe(true);
        if (verdict.spacingM !== null) {
          const now = one.layout.gapsM[0]!;
          expect(Math.abs(verdict.spacingM - now)).toBeLessThanOrEqual(
            Math.max(0.01, Math.min(0.05, 0.1 * now)) + 1e-6,
          );
        }
      },
    ),
    { numRuns: 150 },
  );
});
