import { csvParse } from "d3";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { toLandingsCsv } from "../../src/report/landings-csv.ts";
import { referenceToFrame } from "../../src/report/overlay.ts";
import { renderReport } from "../../src/report/report.ts";
import { RESULT_VERSION, resultSchema, toResultJson } from "../../src/report/result.ts";
import { judge } from "../../src/spacing/judge.ts";
import type { Matrix3 } from "../../src/stats/types.ts";
import { SAMPLES, sampleJudgement } from "./charts-sample.ts";
import { sampleAnalysis, sampleLayout } from "./report-sample.ts";

const row = SAMPLES[0]!;
const judgement = sampleJudgement(row);
const layout = sampleLayout(row.gapsM);
const analysis = sampleAnalysis(judgement, layout);
const result = toResultJson({ analysis, judgement, layout });

describe("result.json", () => {
  it("is what its schema says, also after a round through text", () => {
    for (const sample of SAMPLES) {
      const judged = sampleJudgement(sample);
      const laid = sampleLayout(sample.gapsM);
      const file = toResultJson({ analysis: sampleAnalysis(judged, laid), judgement: judged, layout: laid });
      expect(resultSchema.parse(JSON.parse(JSON.stringify(file)))).toEqual(JSON.parse(JSON.stringify(file)));
    }
  });

  it("carries every landing with its place, and plain numbers for step, creep and scatter", () => {
    expect(result.version).toBe(RESULT_VERSION);
    expect(result.passes.map((pass) => pass.landings.length)).toEqual(
      judgement.passes.map((pass) => pass.landings.length),
    );
    const [pass] = result.passes;
    expect(pass!.stepM).toBe(judgement.passes[0]!.stepM!.value);
    expect(pass!.stepIntervalM).toEqual(judgement.passes[0]!.stepM!.interval);
    expect(pass!.creepMPerGap).toBe(judgement.passes[0]!.creepMPerGap!.value);
    expect(pass!.scatter).toBe(judgement.passes[0]!.scatter);
    const landing = pass!.landings.find((l) => l.gap === 2)!;
    const source = judgement.passes[0]!.landings.find((l) => l.id === landing.id)!;
    expect(landing).toMatchObject({
      paw: source.paw,
      onS: source.onS,
      offS: source.offS,
      xM: source.xM,
      yM: source.yM,
      gap: 2,
      offsetM: source.offsetM,
      gapFraction: source.gapFraction,
      probability: source.probability,
      source: source.source,
    });
  });

  it("says null, never nothing, for what could not be measured", () => {
    const bare = {
      ...judgement,
      stepM: {
        value: Number.NaN,
        interval: [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY] as [number, number],
        n: 1,
      },
      scatter: Number.POSITIVE_INFINITY,
      creepMPerGap: null,
      leftRight: null,
      ownStep: null,
      passes: judgement.passes.map((pass) => ({ ...pass, stepM: null, scatter: Number.NaN })),
    };
    const file = toResultJson({ analysis, judgement: bare, layout });
    expect(file.overall).toMatchObject({ stepM: null, scatter: null, creepMPerGap: null });
    expect(file.passes[0]).toMatchObject({ stepM: null, stepIntervalM: null, scatter: null });
    expect(() => resultSchema.parse(JSON.parse(JSON.stringify(file)))).not.toThrow();
  });

  it("keeps a pass that was not judged, without a place for its landings", () => {
    const file = toResultJson({ analysis, judgement: { ...judgement, passes: [] }, layout });
    expect(file.passes).toHaveLength(3);
    expect(file.passes[0]).toMatchObject({ used: false, setAside: "Not judged.", stepM: null });
    expect(file.passes[0]!.landings[0]).toMatchObject({ gap: null, offsetM: null });
    expect(() => resultSchema.parse(JSON.parse(JSON.stringify(file)))).not.toThrow();
  });

  it("takes what the judge itself makes of the passes", () => {
    const judged = judge({ layout, passes: analysis.passes, aim: "first-poles", gait: "trot" });
    const file = toResultJson({ analysis, judgement: judged, layout });
    expect(() => resultSchema.parse(JSON.parse(JSON.stringify(file)))).not.toThrow();
    expect(file.verdict.sentence).toBe(judged.verdict.sentence);
  });

  it("is refused by its schema when a landing lacks its paw", () => {
    const broken = JSON.parse(JSON.stringify(result));
    delete broken.passes[0].landings[0].paw;
    expect(resultSchema.safeParse(broken).success).toBe(false);
  });
});

describe("drawing over a frame", () => {
  const shiftedBy = (dx: number): Matrix3 => [1, 0, dx, 0, 1, 0, 0, 0, 1];
  const registrations = [
    { timeS: 0, frameToReference: shiftedBy(0), ok: true },
    { timeS: 1, frameToReference: shiftedBy(40), ok: true },
    { timeS: 2, frameToReference: shiftedBy(900), ok: false },
    { timeS: 3, frameToReference: shiftedBy(60), ok: true },
  ];
  const shiftAt = (timeS: number) => referenceToFrame(registrations, timeS)![2];

  it("goes back from the reference picture to the frame, between the frames that were looked at", () => {
    expect(shiftAt(0)).toBeCloseTo(0, 9);
    expect(shiftAt(0.25)).toBeCloseTo(-10, 9);
    expect(shiftAt(1)).toBeCloseTo(-40, 9);
  });

  it("trusts no frame whose background was lost", () => {
    expect(shiftAt(2)).toBeCloseTo(-50, 9);
  });

  it("holds the nearest frame before the first and after the last", () => {
    expect(shiftAt(-1)).toBeCloseTo(0, 9);
    expect(shiftAt(9)).toBeCloseTo(-60, 9);
    expect(referenceToFrame([], 1)).toBeNull();
  });
});

describe("landings.csv", () => {
  // d3-dsv reads it back: a parser of RFC 4180 that is not the writer under test.
  const read = (csv: string) => csvParse(csv);

  it("reads back as written", () => {
    const rows = read(toLandingsCsv(result));
    const landings = result.passes.flatMap((pass) => pass.landings);
    expect(rows).toHaveLength(landings.length);
    rows.forEach((cells, i) => {
      const landing = landings[i]!;
      expect(cells.landing).toBe(landing.id);
      expect(cells.paw).toBe(landing.paw);
      expect(Number(cells.touch_down_s)).toBeCloseTo(landing.onS, 3);
      expect(Number(cells.x_m)).toBeCloseTo(landing.xM, 3);
      expect(cells.gap_number).toBe(landing.gap === null ? "" : String(landing.gap + 1));
      if (landing.offsetM === null) expect(cells.offset_cm).toBe("");
      else expect(Number(cells.offset_cm)).toBeCloseTo(landing.offsetM * 100, 1);
      expect(cells.source).toBe(landing.source);
    });
  });

  it("ends every line with CRLF and has a header whose names carry the units", () => {
    const csv = toLandingsCsv(result);
    const lines = csv.split("\r\n");
    expect(lines.at(-1)).toBe("");
    expect(lines[0]).toBe(
      "clip,pass,direction,pass_counts,landing,paw,paw_name,touch_down_s,lift_off_s,x_m,y_m,x_standard_error_m,place,gap_number,offset_cm,gap_percent,probability,source",
    );
    expect(csv.replaceAll("\r\n", "")).not.toMatch(/[\r\n]/);
  });

  it("keeps file names of any kind, and never lets a spreadsheet take one for a formula", () => {
    fc.assert(
      fc.property(fc.string({ unit: "binary" }), (fileName) => {
        const csv = toLandingsCsv({ ...result, clip: { ...result.clip, fileName } });
        const cell = read(csv)[0]!.clip!;
        // OWASP, "CSV injection": cells that begin with = + - @ tab or return are taken for formulas.
        expect(cell).not.toMatch(/^[=+\-@\t\r]/);
        expect(cell === fileName || cell === `'${fileName}`).toBe(true);
      }),
      { numRuns: 200 },
    );
  });

  it("puts several clips under one header", () => {
    const other = { ...result, clip: { ...result.clip, fileName: "second.mov" } };
    const rows = read(toLandingsCsv([result, other]));
    expect(new Set(rows.map((cells) => cells.clip))).toEqual(new Set(["juniper-trot-2.mp4", "second.mov"]));
  });
});

describe("report.html", () => {
  const input = {
    judgement,
    analyses: [analysis],
    layout,
    dog: { name: "Juniper" },
    session: { date: Date.UTC(2026, 2, 14, 10), gait: "trot" as const, aim: "longer-reach" as const },
    practitioner: { name: "A. Lindqvist", practice: "Millbrook Dog Gym" },
    cautions: ["Noted for this dog: still growing."],
    units: "cm" as const,
  };

  it("stands alone: no script, no outside address, no handler", () => {
    const html = renderReport(input);
    expect(html).not.toMatch(/<script|<link|<iframe|<object|javascript:|\son\w+=/i);
    const addresses = [...html.matchAll(/(?:https?:)?\/\/[^\s"'<)]+/g)].map(([address]) => address);
    // The name of the SVG language is written as an address, but never fetched.
    expect(new Set(addresses)).toEqual(new Set(["http://www.w3.org/2000/svg"]));
    expect(html).not.toMatch(/NaN|Infinity|undefined|\[object/);
  });

  it("says verdict, evidence, what to do next, cautions and limits", () => {
    const html = renderReport(input);
    for (const text of [
      judgement.verdict.sentence,
      judgement.verdict.evidence,
      judgement.verdict.nextTime,
      "Noted for this dog: still growing.",
      "not a diagnosis and not a prescription",
      "Call the veterinarian",
      "does not show a mild lameness",
      "choices of this program",
      "Juniper",
      "Millbrook Dog Gym",
      "6 placed by hand",
    ]) {
      expect(html).toContain(text);
    }
  });

  it("lists every landing, and tells hand-made and doubtful ones apart", () => {
    const html = renderReport(input);
    const landings = judgement.passes.flatMap((pass) => pass.landings);
    expect(html.match(/<td class="foot">/g)).toHaveLength(landings.length);
    const byHand = landings.filter((l) => l.source === "hand").length;
    expect(html.match(/<td class="n">by hand<\/td>/g)).toHaveLength(byHand);
    expect(html.match(/<tr class="doubt">/g)).toHaveLength(
      landings.filter((l) => l.probability < 0.6).length,
    );
  });

  it("shows hostile text as text", () => {
    const hostile = `</title><script>alert(1)</script><img src=x onerror=alert(1)>"'&`;
    const html = renderReport({
      ...input,
      dog: { name: hostile },
      session: { ...input.session, notes: hostile },
      practitioner: { name: hostile, practice: hostile, logo: `data:text/html,${hostile}` },
      cautions: [hostile],
      judgement: { ...judgement, verdict: { ...judgement.verdict, sentence: hostile }, notes: [hostile] },
      analyses: [{ ...analysis, clip: { ...analysis.clip, fileName: hostile }, warnings: [hostile] }],
      frames: [
        { dataUrl: "https://example.org/x.png", caption: hostile },
        { dataUrl: `data:image/png;base64,AAAA" onerror="alert(1)`, caption: hostile },
        { dataUrl: "data:image/svg+xml;base64,AAAA", caption: hostile },
      ],
    });
    expect(html).not.toMatch(/<script|<img|example\.org|image\/svg/);
    expect(html).toContain("&lt;script&gt;alert(1)&lt;/script&gt;");
  });

  it("keeps any name of a dog inside its element", () => {
    const bold = renderReport(input).match(/<b>/g)?.length;
    fc.assert(
      fc.property(fc.string({ unit: "binary" }), (name) => {
        const html = renderReport({ ...input, dog: { name: `<b>${name}</b>` } });
        expect(html.match(/<b>/g)?.length).toBe(bold);
      }),
      { numRuns: 30 },
    );
  });

  it("shows pictures given as data, and captions them", () => {
    const html = renderReport({
      ...input,
      frames: [{ dataUrl: "data:image/jpeg;base64,/9j/4AAQ", caption: "Pass 1, gap 2" }],
    });
    expect(html).toContain('<img src="data:image/jpeg;base64,/9j/4AAQ" alt="Pass 1, gap 2">');
  });

  it("speaks inches when asked", () => {
    const inches = judge({ layout, passes: analysis.passes, aim: "first-poles", gait: "trot", units: "in" });
    const html = renderReport({ ...input, judgement: inches, units: "in" });
    expect(html).toContain("Offset, in");
    expect(html.replace(/<style>.*?<\/style>/s, "").match(/.{40}\d cm\b/g)).toBeNull();
  });

  it("says nothing of an error that is not known", () => {
    const passes = judgement.passes.map((pass) => ({
      ...pass,
      landings: pass.landings.map((landing) => ({ ...landing, xSeM: Number.POSITIVE_INFINITY })),
    }));
    expect(renderReport({ ...input, judgement: { ...judgement, passes } }).match(/Infinity|NaN/g)).toBeNull();
  });

  it("can be made when nothing was found", () => {
    const nothing = judge({ layout, passes: [], aim: "first-poles", gait: "trot" });
    const html = renderReport({
      judgement: nothing,
      analyses: [{ ...analysis, passes: [], ground: { map: null, residuals: [], problems: [] } }],
      layout,
      cautions: [],
      units: "cm",
    });
    expect(html).toContain("No pass was found in the film.");
    expect(html).not.toMatch(/NaN|Infinity|undefined/);
  });
});
