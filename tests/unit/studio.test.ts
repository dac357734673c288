import { readdirSync, readFileSync, statSync } from "node:fs";
import { createRequire } from "node:module";
import { describe, expect, test } from "vitest";
import { BREEDS } from "../../fixtures/studio/coat.ts";
import { DRAWN_WITHERS_M } from "../../fixtures/studio/dog.ts";
import { hurdlesOf, pawAt } from "../../fixtures/studio/footfalls.ts";
import type { Scenario } from "../../fixtures/studio/scenario.ts";
import { SCENARIOS } from "../../fixtures/studio/scenarios.ts";
import { type Act, acts, PAW_MIDDLE_M } from "../../fixtures/studio/stage.ts";
import type { TrueLanding, Truth } from "../../fixtures/studio/truth.ts";
import type { Paw } from "../../src/gait/types.ts";
import type { ImagePoint } from "../../src/ground/types.ts";

/** The npm package perspective-transform, which carries no types. */
const perspectiveTransform = createRequire(import.meta.url)("perspective-transform") as (
  from: number[],
  to: number[],
) => { transform(x: number, y: number): [number, number] };

const CLIPS = new URL("../../fixtures/clips/", import.meta.url);
const truthOf = (name: string): Truth => JSON.parse(readFileSync(new URL(`${name}.json`, CLIPS), "utf8"));
const PAWS: Paw[] = ["LH", "RH", "LF", "RF"];
const isHind = (landing: { paw: Paw }) => landing.paw[1] === "H";
const mean = (values: number[]) => values.reduce((a, b) => a + b, 0) / values.length;

const WITH_DOG = SCENARIOS.filter((s) => s.passes.length > 0);
const each = (scenarios: Scenario[]) => scenarios.map((s) => [s.name, s] as const);

/** Landings of one pass, told from the files. */
function inPass(truth: Truth, pass: number, landings = truth.landings): TrueLanding[] {
  const { startS, endS } = truth.passes[pass]!;
  return landings.filter((l) => l.onS >= startS - 1e-3 && l.offS <= endS + 1e-3);
}

/** How the hind feet of all passes met the gaps, counted along each pass's own way. */
function gapFacts(truth: Truth) {
  const { gapsM } = truth.marks;
  const gap = gapsM[0]!;
  const length = gap * gapsM.length;
  const counts: number[][] = [];
  const fractions: number[][] = [];
  for (const [i, pass] of truth.passes.entries()) {
    const u = inPass(truth, i)
      .filter(isHind)
      .map((l) => (pass.direction === 1 ? l.xM : length - l.xM))
      .filter((v) => v > 0 && v < length);
    counts.push(gapsM.map((_, g) => u.filter((v) => Math.floor(v / gap) === g).length));
    fractions.push(u.map((v) => v / gap - Math.floor(v / gap)));
  }
  const all = fractions.flat();
  const spread = Math.sqrt(mean(all.map((f) => (f - mean(all)) ** 2)));
  return { counts, place: mean(all), spread, mismatch: truth.stepM / gap - 1 };
}

describe("the clips of the studio", () => {
  test("stay small together: under 12 MB", () => {
    const sizes = readdirSync(CLIPS).map((file) => statSync(new URL(file, CLIPS)).size);
    expect(sizes.reduce((a, b) => a + b, 0)).toBeLessThan(12e6);
  });

  test("are all there, each with its truth", () => {
    const files = new Set(readdirSync(CLIPS));
    for (const { name } of SCENARIOS) {
      expect(files.has(`${name}.mp4`), `${name}.mp4`).toBe(true);
      expect(files.has(`${name}.json`), `${name}.json`).toBe(true);
    }
  });

  test.each(each(SCENARIOS))("%s: the truth on file is that of its scenario", (name, scenario) => {
    const truth = truthOf(name);
    expect(truth.verdict).toBe(scenario.verdict);
    expect(truth.marks.gapsM).toEqual(scenario.row.gapsM);
    expect(truth.marks.poles).toHaveLength(scenario.row.gapsM.length + 1);
    expect(truth.passes.map((p) => p.direction)).toEqual(scenario.passes.map((p) => p.direction));
    const planned = acts(scenario).flatMap((act) =>
      PAWS.flatMap((paw) =>
        act.falls.byPaw[paw].map((f) => ({ paw, onS: f.onS, ...act.ground(f.uM, f.rightM) })),
      ),
    );
    for (const landing of [...truth.landings, ...truth.partLandings]) {
      const twin = planned.find((p) => p.paw === landing.paw && Math.abs(p.onS - landing.onS) < 1e-3);
      expect(twin).toBeDefined();
      expect(twin!.xM).toBeCloseTo(landing.xM, 3);
      expect(twin!.yM).toBeCloseTo(landing.yM, 3);
    }
  });

  // Cross-ratio of four evenly spaced points is 4/3 in any perspective picture (theorem of projective geometry).
  test.each(each(SCENARIOS.filter((s) => s.row.gapsM.length >= 3)))(
    "%s: the marked ends of even poles keep the cross-ratio 4/3",
    (name) => {
      const { poles } = truthOf(name).marks;
      for (const end of ["near", "far"] as const) {
        for (let i = 0; i + 3 < poles.length; i++) {
          const [a, b, c, d] = poles.slice(i, i + 4).map((pole) => pole[end]!) as [
            ImagePoint,
            ImagePoint,
            ImagePoint,
            ImagePoint,
          ];
          const far = (p: ImagePoint, q: ImagePoint) => Math.hypot(q.x - p.x, q.y - p.y);
          const ratio = (far(a, c) * far(b, d)) / (far(b, c) * far(a, d));
          expect(ratio).toBeCloseTo(4 / 3, 2);
        }
      }
    },
  );

  test.each(each(SCENARIOS))("%s: every pole end is in the picture when the poles are marked", (name) => {
    const { marks, picture } = truthOf(name);
    for (const { x, y } of marks.poles.flatMap((pole) => [pole.near!, pole.far!])) {
      expect(Math.min(x, picture.widthPx - x)).toBeGreaterThan(5);
      expect(Math.min(y, picture.heightPx - y)).toBeGreaterThan(5);
    }
  });

  test.each(each(WITH_DOG))("%s: hind feet take turns, and so do fore feet", (name) => {
    const truth = truthOf(name);
    for (let i = 0; i < truth.passes.length; i++) {
      for (const row of ["H", "F"]) {
        const sides = inPass(truth, i)
          .filter((l) => l.paw[1] === row)
          .map((l) => l.paw[0]);
        expect(sides.length).toBeGreaterThan(3);
        for (let k = 1; k < sides.length; k++) expect(sides[k]).not.toBe(sides[k - 1]);
      }
    }
  });

  const rows = WITH_DOG.filter((s) => s.verdict !== null);
  test.each(each(rows))("%s: three hind landings lead up to the first pole", (name, scenario) => {
    const truth = truthOf(name);
    const all = [...truth.landings, ...truth.partLandings];
    const length = scenario.row.gapsM.reduce((a, b) => a + b, 0);
    const before = all.filter(
      (l) =>
        isHind(l) &&
        l.onS < truth.passes[0]!.endS &&
        (truth.passes[0]!.direction === 1 ? l.xM < 0 : l.xM > length),
    );
    // An upright phone sees too little to the side for a third one.
    expect(before.length).toBeGreaterThanOrEqual(scenario.picture.turnDeg ? 2 : 3);
  });

  test.each(each(WITH_DOG))(
    "%s: speed times stride time is the stride, twice the hind step",
    (name, scenario) => {
      const truth = truthOf(name);
      for (const [i, pass] of truth.passes.entries()) {
        const hind = inPass(truth, i).filter(isHind);
        const [first, last] = [hind[0]!, hind.at(-1)!];
        const steps = hind.length - 1;
        const stepM = Math.abs(last.xM - first.xM) / steps;
        const stepS = (last.onS - first.onS) / steps;
        expect(pass.speedMps * pass.strideTimeS).toBeCloseTo(2 * scenario.passes[i]!.stepM, 3);
        expect(2 * stepS).toBeCloseTo(pass.strideTimeS, 1);
        if (scenario.verdict !== "not-steady")
          expect(Math.abs(stepM / stepS / pass.speedMps - 1)).toBeLessThan(0.03);
      }
    },
  );

  test.each(each(WITH_DOG))("%s: paws and marks lie in one and the same picture", (name, scenario) => {
    const truth = truthOf(name);
    const { widthPx, heightPx } = truth.picture;
    expect(truth.paws.length).toBeGreaterThan(5);
    for (const { box, points } of truth.paws) {
      for (const paw of PAWS) {
        const [x, y, v] = points[paw];
        expect([1, 2]).toContain(v);
        expect(x).toBeGreaterThan(0);
        expect(x).toBeLessThan(widthPx);
        expect(y).toBeLessThan(heightPx);
        expect(x).toBeGreaterThan(box[0] - 12);
        expect(x).toBeLessThan(box[2] + 12);
        expect(y).toBeLessThan(box[3] + 12);
      }
    }
    if (scenario.camera.kind !== "tripod") return;
    // perspective-transform maps the row's four corner ends; a standing paw must fall on its own landing.
    const { poles, gapsM, poleLengthM } = truth.marks;
    const length = gapsM.reduce((a, b) => a + b, 0);
    const corners = [poles[0]!.near!, poles.at(-1)!.near!, poles.at(-1)!.far!, poles[0]!.far!];
    const map = perspectiveTransform(
      corners.flatMap((p) => [p.x, p.y]),
      [0, 0, length, 0, length, poleLengthM!, 0, poleLengthM!],
    );
    let checked = 0;
    for (const { timeS, points } of truth.paws)
      for (const landing of truth.landings) {
        if (timeS < landing.onS || timeS > landing.offS) continue;
        const [x] = map.transform(points[landing.paw][0], points[landing.paw][1]);
        // The map is that of the pole tops; the line of sight goes on from there to the paw's own height.
        const { heightM, xM } = truth.camera;
        const pawM = (PAW_MIDDLE_M * BREEDS[scenario.dog].withersM) / DRAWN_WITHERS_M;
        const onward = (heightM - pawM) / (heightM - truth.marks.poleHeightM!);
        expect(xM + (x - xM) * onward).toBeCloseTo(landing.xM, 2);
        checked++;
      }
    expect(checked).toBeGreaterThan(5);
  });
});

describe("what each clip is there to show", () => {
  const facts = (name: string) => gapFacts(truthOf(name));
  const named = (verdict: string) => each(SCENARIOS.filter((s) => s.verdict === verdict));

  test.each(named("fits"))("%s: one hind foot near the middle of every gap", (name) => {
    const { counts, place, mismatch } = facts(name);
    for (const pass of counts) expect(pass.every((n) => n === 1)).toBe(true);
    expect(place).toBeGreaterThan(0.4);
    expect(place).toBeLessThan(0.6);
    expect(Math.abs(mismatch)).toBeLessThan(0.025);
  });

  test("too-close: the step is about 8 % longer than the spacing", () => {
    const { counts, mismatch } = facts("too-close");
    expect(counts[0]!.every((n) => n === 1)).toBe(true);
    expect(mismatch).toBeGreaterThan(0.06);
    expect(mismatch).toBeLessThan(0.11);
  });

  test("too-far: the step is about 8 % shorter than the spacing", () => {
    const { counts, mismatch } = facts("too-far");
    expect(counts[0]!.every((n) => n === 1)).toBe(true);
    expect(mismatch).toBeLessThan(-0.06);
    expect(mismatch).toBeGreaterThan(-0.11);
  });

  test("off-centre: steady, about 27 % of the gap from its middle", () => {
    const { place, spread, mismatch } = facts("off-centre");
    expect(0.5 - place).toBeGreaterThan(0.23);
    expect(0.5 - place).toBeLessThan(0.3);
    expect(spread).toBeLessThan(0.04);
    expect(Math.abs(mismatch)).toBeLessThan(0.025);
  });

  test("two-steps: two hind landings in every gap", () => {
    expect(facts("two-steps").counts).toEqual([[2, 2, 2]]);
  });

  test("stepped-over: gaps without a hind landing, none with two", () => {
    const [counts] = facts("stepped-over").counts;
    expect(counts!.filter((n) => n === 0).length).toBeGreaterThanOrEqual(2);
    expect(Math.max(...counts!)).toBe(1);
  });

  test("unsteady: places wander over more than a tenth of the gap though the mean step fits", () => {
    const { spread, mismatch } = facts("unsteady");
    expect(spread).toBeGreaterThan(0.12);
    expect(Math.abs(mismatch)).toBeLessThan(0.1);
  });

  test("two-passes: one pass each way", () => {
    expect(truthOf("two-passes").passes.map((p) => p.direction)).toEqual([1, -1]);
  });

  test("no-dog: nothing lands", () => {
    const truth = truthOf("no-dog");
    expect([truth.landings, truth.partLandings, truth.passes, truth.paws]).toEqual([[], [], [], []]);
  });

  test("handler-near: paws are hidden for a part of their stance", () => {
    const hidden = truthOf("handler-near").landings.filter((l) => (l.visible ?? 1) < 0.8);
    expect(hidden.length).toBeGreaterThan(2);
  });
});

describe("the dog of the studio", () => {
  const played: [string, Scenario, Act][] = WITH_DOG.flatMap((s) =>
    acts(s).map((act): [string, Scenario, Act] => [`${s.name} ${act.direction}`, s, act]),
  );

  test.each(played)("%s: a standing paw does not move at all", (_, scenario, act) => {
    const hurdles = hurdlesOf(scenario.row, act.direction);
    const { withersM } = BREEDS[scenario.dog];
    for (const paw of PAWS)
      for (const fall of act.falls.byPaw[paw].slice(1, -1))
        for (const share of [0.001, 0.3, 0.7, 0.999]) {
          const state = pawAt(act.falls, paw, fall.onS + share * (fall.offS - fall.onS), hurdles, withersM);
          expect(state).toMatchObject({ uM: fall.uM, rightM: fall.rightM, liftM: 0, down: true });
        }
  });

  test.each(played)("%s: every paw passes above every pole", (_, scenario, act) => {
    const hurdles = hurdlesOf(scenario.row, act.direction);
    const { withersM } = BREEDS[scenario.dog];
    for (const paw of PAWS)
      for (const pole of hurdles.uM)
        for (let t = act.fromS; t < act.toS; t += 0.004) {
          const state = pawAt(act.falls, paw, t, hurdles, withersM);
          if (Math.abs(state.uM - pole) < 0.02) expect(state.liftM).toBeGreaterThan(hurdles.clearM);
        }
  });

  // Sectors of Hildebrand M. Science 1965;150:701 (limits from memory): a trot between 43.75 and 56.25 % with less
  // than half the stride on the ground, a lateral-sequence walk between 6.25 and 31.25 % with more.
  test.each(played)("%s: limbs follow one another as in the named gait", (_, scenario, act) => {
    const { byPaw, plan } = act.falls;
    const phases = ["L", "R"].flatMap((side) =>
      byPaw[`${side}H` as Paw].slice(2, 8).map((hind) => {
        const fore = byPaw[`${side}F` as Paw].find((f) => f.onS > hind.onS - 0.1 * plan.strideS)!;
        return (fore.onS - hind.onS) / plan.strideS;
      }),
    );
    const duty = mean(act.falls.hind.map((f) => (f.offS - f.onS) / plan.strideS));
    if (scenario.gait === "trot") {
      expect(mean(phases)).toBeGreaterThan(0.4375);
      expect(mean(phases)).toBeLessThan(0.5625);
      expect(duty).toBeLessThan(0.5);
    } else {
      expect(mean(phases)).toBeGreaterThan(0.0625);
      expect(mean(phases)).toBeLessThan(0.3125);
      expect(duty).toBeGreaterThan(0.5);
    }
  });

  // At a trot the hind foot steps into the spot that the same side's fore foot has just left (Zink MC, Van Dyke JB,
  // Canine Sports Medicine and Rehabilitation, 2nd ed., p. 26).
  test.each(played)(
    "%s: a hind foot lands at its fore print, after the fore foot has left",
    (_, scenario, act) => {
      for (const side of ["L", "R"])
        for (const hind of act.falls.byPaw[`${side}H` as Paw].slice(2)) {
          const fore = act.falls.byPaw[`${side}F` as Paw].findLast((f) => f.onS < hind.onS)!;
          expect(fore.offS).toBeLessThan(hind.onS);
          const ahead = hind.uM - fore.uM;
          if (scenario.gait === "trot") expect(Math.abs(ahead)).toBeLessThan(0.03);
          else expect(Math.abs(ahead)).toBeLessThan(0.08);
        }
    },
  );

  // Walk: speed over √(g × withers) of 0.33 to 0.46 (Piazza AM et al. Am J Vet Res 2017;78:500). Trot: 1.5 to 2.2 m/s
  // (Hans EC et al. Vet J 2014;202:498, dogs of 28 kg).
  test.each(played)("%s: goes at a speed at which dogs are measured", (_, scenario, act) => {
    const relative = act.falls.speedMps / Math.sqrt(9.81 * BREEDS[scenario.dog].withersM);
    if (scenario.gait === "walk") {
      expect(relative).toBeGreaterThan(0.33);
      expect(relative).toBeLessThan(0.46);
    } else {
      expect(act.falls.speedMps).toBeGreaterThan(1.5);
      expect(act.falls.speedMps).toBeLessThan(2.2);
    }
  });
});
