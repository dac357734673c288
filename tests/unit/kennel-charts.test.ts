import { describe, expect, it } from "vitest";
import { exampleRecords } from "../../src/app/kennel/examples.ts";
import { drawCheckBar, drawCordPiece, PIECE_MM, pieceCount } from "../../src/charts/cord-strip.ts";
import { drawLayoutPlan } from "../../src/charts/layout-plan.ts";
import { drawProgressLine } from "../../src/charts/progress-line.ts";
import { drawProgressPair } from "../../src/charts/progress-pair.ts";
import { drawProgressSpeed } from "../../src/charts/progress-speed.ts";

const row = { gapsM: [0.5, 0.4, 0.6], heightsM: [0, 0.1, 0, 0.1], targetFractions: [0.5, 0.5, 0.5] };

/** x of each pole, from the first rectangle of each pole mark. */
function poleXs(svg: string): number[] {
  return [...svg.matchAll(/data-pole=""><rect x="([\d.]+)"/g)].map((match) => Number(match[1]));
}

describe("the drawing of a row", () => {
  it("is to scale: poles lie as far apart as the gaps say", () => {
    const xs = poleXs(drawLayoutPlan(row, { width: 600, units: "cm" }));
    expect(xs).toHaveLength(4);
    const perMetre = (xs[3]! - xs[0]!) / 1.5;
    expect((xs[1]! - xs[0]!) / perMetre).toBeCloseTo(0.5, 3);
    expect((xs[2]! - xs[1]!) / perMetre).toBeCloseTo(0.4, 3);
  });

  it("writes running distances from the first pole, in either unit", () => {
    const cm = drawLayoutPlan(row, { width: 600, units: "cm" });
    expect(cm).toContain("Distances from the first pole: 0, 50, 90, 150.");
    const inches = { ...row, gapsM: [0.4826, 0.4826, 0.4826] };
    expect(drawLayoutPlan(inches, { width: 600, units: "in" })).toContain("0, 19, 38, 57.");
  });

  it("says heights in words, and draws the side view only where a pole is raised", () => {
    expect(drawLayoutPlan(row, { width: 400, units: "cm" })).toContain("Heights: 0, 10, 0, 10.");
    const flat = { ...row, heightsM: [0, 0, 0, 0] };
    expect(drawLayoutPlan(flat, { width: 400, units: "cm" })).toContain("All poles on the ground.");
    expect(drawLayoutPlan(flat, { width: 400, units: "cm" })).not.toContain("<circle");
  });

  it("turns angled poles about their middle", () => {
    const angled = drawLayoutPlan({ ...row, anglesDeg: [12, -12, 12, -12] }, { width: 400, units: "cm" });
    expect(angled.match(/rotate\(-?12 /g)).toHaveLength(4);
  });
});

describe("the cord to print", () => {
  const marks = [
    { atM: 0.3, letters: ["OT"] },
    { atM: 0.46, letters: ["BI", "WR"] },
  ];

  it("is as long on paper as on the ground: one unit of the drawing is one millimetre", () => {
    const bar = drawCheckBar("c");
    expect(bar).toMatch(/width="104mm" height="13mm" viewBox="0 0 104 13"/);
    expect(bar).toMatch(/<rect x="2" y="2" width="100" height="3.5" data-check=""/);
    const piece = drawCordPiece(marks, 0, "cm", "p");
    expect(piece).toContain(`width="30mm" height="${PIECE_MM}mm" viewBox="0 0 30 ${PIECE_MM}"`);
  });

  it("is cut into pieces that cover every mark, each at its own distance", () => {
    expect(pieceCount(marks)).toBe(3);
    const second = drawCordPiece(marks, 1, "cm", "p");
    // 300 mm from the loop is 100 mm into the second piece, below its lap of 12 mm.
    expect(second).toMatch(/data-mark="OT"><line x1="0" x2="30" y1="112" y2="112"/);
    expect(drawCordPiece(marks, 2, "cm", "p")).toMatch(/data-mark="BI WR"><line x1="0" x2="30" y1="72"/);
    expect(drawCordPiece(marks, 0, "cm", "p")).not.toContain("data-mark");
  });

  it("fits on a sheet of A4 and of letter paper together with the bar", () => {
    // 279 mm is a letter sheet; 20 mm margins, 13 mm bar, 12 mm lap, 20 mm of text.
    expect(PIECE_MM + 12 + 13 + 20 + 20).toBeLessThanOrEqual(279);
  });
});

describe("drawings of progress", () => {
  const { sessions } = exampleRecords(Date.UTC(2026, 10, 25));
  const [first, second] = sessions;
  const options = { width: 360, units: "cm" } as const;
  const points = [
    { at: Date.UTC(2026, 2, 1), value: 47, interval: [46, 48] as [number, number] },
    { at: Date.UTC(2026, 2, 8), value: 49, interval: null },
  ];

  it("give each session a mark, its interval where there is one, and the band of chance", () => {
    const svg = drawProgressLine({ name: "Step, cm", points, digits: 1, noise: 1.4 }, options);
    expect(svg.match(/data-point/g)).toHaveLength(2);
    expect(svg).toContain("data-noise");
    expect(svg).toContain("1 Mar: 47.0 (95 % interval 46.0 to 48.0); 8 Mar: 49.0.");
    expect(drawProgressLine({ name: "Knocks", points, digits: 0, noise: null }, options)).not.toContain(
      "data-noise",
    );
  });

  it("hold up with one session, and with values that are all the same", () => {
    for (const some of [
      points.slice(0, 1),
      points.map((point) => ({ ...point, value: 0, interval: null })),
    ]) {
      const svg = drawProgressLine({ name: "Knocks", points: some, digits: 0, noise: null }, options);
      expect(svg).not.toMatch(/NaN|Infinity/);
    }
    const passes = [{ speedMps: 1.6, stepM: 0.47, newest: true }];
    expect(drawProgressSpeed(passes, options)).not.toMatch(/NaN|Infinity/);
  });

  it("lay two sessions over one gap", () => {
    const of = (session: typeof first, name: string) => ({
      name,
      gapsM: session!.layout!.gapsM,
      passes: session!.judgement!.passes,
    });
    const svg = drawProgressPair(of(first, "first"), of(second, "second"), options);
    expect(svg).toContain('data-session="first"');
    expect(svg).toMatch(
      /first: 2\d hind landings, on average at \d+ % of the gap\. second: 3\d hind landings/,
    );
    expect(svg).not.toMatch(/NaN|undefined/);
  });
});
