import { describe, expect, it } from "vitest";
import { drawFootprints } from "../../src/charts/footprints.ts";
import type { DrawingOptions } from "../../src/charts/frame.ts";
import { drawGapOverlay } from "../../src/charts/gap-overlay.ts";
import { lengthText, rangeText, signedLengthText, spacingText } from "../../src/charts/lengths.ts";
import { drawOffsets } from "../../src/charts/offsets.ts";
import { drawSpread, gapSpreads } from "../../src/charts/spread.ts";
import { drawStances } from "../../src/charts/stances.ts";
import { element, escapeText } from "../../src/charts/svg.ts";
import { meanShare, travelLandings } from "../../src/charts/travel.ts";
import { drawVerdictPicture } from "../../src/charts/verdict-picture.ts";
import type { Judgement } from "../../src/spacing/types.ts";
import { SAMPLES, type SampleRow, sampleJudgement } from "./charts-sample.ts";

const phone: DrawingOptions = { width: 350, units: "cm" };
const desk: DrawingOptions = { width: 900, units: "cm" };

const tooClose = SAMPLES[0]!;

type Drawing = (row: SampleRow, judgement: Judgement, options: DrawingOptions) => string;

const DRAWINGS: Record<string, Drawing> = {
  footprints: (row, { passes }, options) => drawFootprints({ gapsM: row.gapsM, passes }, options),
  "gap-overlay": (row, judgement, options) =>
    drawGapOverlay(
      {
        gapsM: row.gapsM,
        passes: judgement.passes,
        targetFractions: row.gapsM.map(() => 0.5),
        meanFraction: judgement.meanFraction,
        scatter: judgement.scatter,
      },
      options,
    ),
  offsets: (row, { passes, creepMPerGap }, options) =>
    drawOffsets({ gapsM: row.gapsM, passes, creepMPerGap }, options),
  spread: (row, { passes }, options) => drawSpread({ gapsM: row.gapsM, passes }, options),
  stances: (_, { passes }, options) => drawStances({ passes }, options),
  "verdict-picture": (row, judgement, options) =>
    drawVerdictPicture({ gapsM: row.gapsM, targetFractions: row.gapsM.map(() => 0.5), judgement }, options),
};

/** Attributes of every element whose tag matches, in order: enough to check places without a DOM. */
function elements(svg: string, tag: string): Record<string, string>[] {
  return [...svg.matchAll(new RegExp(`<${tag}((?: [\\w:-]+="[^"]*")*)>`, "g"))].map(([, written]) =>
    Object.fromEntries([...(written ?? "").matchAll(/ ([\w:-]+)="([^"]*)"/g)].map(([, k, v]) => [k!, v!])),
  );
}

/** Middle of each paw mark inside the group that carries data-landing or data-pass, keyed by its title. */
function markCentres(svg: string): { paw: string; x: number; y: number }[] {
  const marks = /<g data-paw="(\w\w)"[^>]*><title>[^<]*<\/title><(circle|rect)((?: [\w:-]+="[^"]*")*)>/g;
  return [...svg.matchAll(marks)].map(([, paw, shape, written]) => {
    const at = Object.fromEntries(
      [...(written ?? "").matchAll(/ ([\w:-]+)="([^"]*)"/g)].map(([, k, v]) => [k!, Number(v)]),
    );
    return shape === "circle"
      ? { paw: paw!, x: at.cx!, y: at.cy! }
      : { paw: paw!, x: at.x! + at.width! / 2, y: at.y! + at.height! / 2 };
  });
}

/** Middle of the poles: first rectangle inside each pole group. */
function poleCentres(svg: string): number[] {
  return [...svg.matchAll(/<g data-pole=""><rect x="([-\d.]+)" y="[-\d.]+" width="([-\d.]+)"/g)].map(
    ([, x, width]) => Number(x) + Number(width) / 2,
  );
}

describe("every drawing", () => {
  for (const [name, draw] of Object.entries(DRAWINGS)) {
    for (const row of name === "verdict-picture" ? SAMPLES : [SAMPLES[0]!, SAMPLES[7]!]) {
      it(`${name} of "${row.kind}" keeps its shape`, async () => {
        const judgement = sampleJudgement(row);
        await expect(`${draw(row, judgement, phone)}\n`).toMatchFileSnapshot(
          `charts-drawn/${name}-${row.kind}.svg`,
        );
      });
    }

    it(`${name} is named, described, sized and free of bad numbers at both widths`, () => {
      for (const options of [phone, desk]) {
        for (const row of SAMPLES) {
          const svg = draw(row, sampleJudgement(row), options);
          expect(svg).not.toMatch(/NaN|Infinity|undefined|null/);
          expect(svg).toContain('role="img"');
          expect(svg).toMatch(/<title id="[\w-]+-title">[^<]+<\/title><desc id="[\w-]+-text">[^<]+<\/desc>/);
          const [root] = elements(svg, "svg");
          expect(Number(root?.width)).toBe(options.width);
        }
      }
    });

    it(`${name} keeps all its text inside the picture`, () => {
      for (const options of [phone, desk]) {
        const svg = draw(tooClose, sampleJudgement(tooClose), options);
        for (const [, written, text] of svg.matchAll(/<text((?: [\w:-]+="[^"]*")*)>([^<]*)</g)) {
          const x = Number(/ x="([-\d.]+)"/.exec(written!)?.[1]);
          const size = Number(/font-size="([\d.]+)"/.exec(written!)?.[1] ?? 13);
          const anchor = /text-anchor="(\w+)"/.exec(written!)?.[1] ?? "start";
          const width = text!.length * size * 0.58;
          const left = anchor === "start" ? x : anchor === "end" ? x - width : x - width / 2;
          expect(left, text).toBeGreaterThanOrEqual(-3);
          expect(left + width, text).toBeLessThanOrEqual(options.width + 3);
        }
      }
    });

    it(`${name} can be drawn with nothing found`, () => {
      const empty: Judgement = {
        ...sampleJudgement(tooClose),
        passes: [],
        stepM: null,
        creepMPerGap: null,
        scatter: null,
        meanFraction: null,
      };
      expect(draw(tooClose, empty, phone)).not.toMatch(/NaN|Infinity|undefined/);
    });

    it(`${name} refuses a width that is none`, () => {
      for (const width of [0, -3, Number.NaN, 5000]) {
        expect(() => draw(tooClose, sampleJudgement(tooClose), { width, units: "cm" })).toThrow(RangeError);
      }
    });
  }
});

describe("footprints", () => {
  const judgement = sampleJudgement(tooClose);

  it("puts poles and landings on one scale", () => {
    const svg = DRAWINGS.footprints!(tooClose, judgement, desk);
    const poles = poleCentres(svg).slice(0, 6);
    const pixelsPerMetre = (poles[5]! - poles[0]!) / 2.25;
    poles.forEach((x, i) => {
      expect(x).toBeCloseTo(poles[0]! + i * 0.45 * pixelsPerMetre, 1);
    });
    const [first] = judgement.passes;
    const drawn = markCentres(/<g data-pass="pass-1">.*?(?=<g data-pass="pass-2">)/s.exec(svg)![0]);
    const expected = first!.landings
      .filter((l) => l.xM >= -0.8 && l.xM <= 3.05)
      .map((l) => poles[0]! + l.xM * pixelsPerMetre)
      .sort((a, b) => a - b);
    const places = drawn.map((mark) => mark.x).sort((a, b) => a - b);
    expect(places).toHaveLength(expected.length);
    places.forEach((x, i) => {
      expect(x).toBeCloseTo(expected[i]!, 1);
    });
  });

  it("keeps the scale across the row the same as along it", () => {
    const svg = DRAWINGS.footprints!(tooClose, judgement, desk);
    const poles = poleCentres(svg).slice(0, 6);
    const pixelsPerMetre = (poles[5]! - poles[0]!) / 2.25;
    const landings = judgement.passes[0]!.landings;
    const [a, b] = [
      landings.find((l) => l.paw === "LH" && l.gap === 0)!,
      landings.find((l) => l.paw === "RH" && l.gap === 1)!,
    ];
    const svgOf = (id: string) =>
      markCentres(new RegExp(`<g data-landing="${id}">.*?</g></g>`, "s").exec(svg)![0])[0]!;
    // The picture's y grows downwards.
    expect(svgOf(a.id).y - svgOf(b.id).y).toBeCloseTo(-(a.yM - b.yM) * pixelsPerMetre, 0);
  });

  it("draws whiskers as wide as the 95 % interval", () => {
    const svg = DRAWINGS.footprints!(tooClose, judgement, desk);
    const poles = poleCentres(svg).slice(0, 6);
    const pixelsPerMetre = (poles[5]! - poles[0]!) / 2.25;
    const landing = judgement.passes[0]!.landings.find((l) => l.gap === 2)!;
    const [, x0, x1] = new RegExp(`data-landing="${landing.id}"><path d="M([-\\d.]+) [^H]*H([-\\d.]+)`).exec(
      svg,
    )!;
    expect(Number(x1) - Number(x0)).toBeCloseTo(2 * 1.96 * landing.xSeM * pixelsPerMetre, 0);
  });

  it("leaves the whisker out where nothing is known of the place's error", () => {
    const passes = judgement.passes.map((pass) => ({
      ...pass,
      landings: pass.landings.map((landing) => ({ ...landing, xSeM: Number.POSITIVE_INFINITY })),
    }));
    const svg = drawFootprints({ gapsM: tooClose.gapsM, passes }, desk);
    expect(svg).not.toMatch(/data-whisker|Infinity|NaN/);
    expect(svg).toContain("left hind, gap 1");
  });

  it("turns a pole that lies at an angle, and the other way round on a plan seen from the other side", () => {
    const row = { gapsM: tooClose.gapsM, passes: judgement.passes, anglesDeg: [0, 20, 0, 0, 0, 0] };
    expect(drawFootprints(row, desk)).toMatch(/rotate\(-20\.0 /);
    expect(drawFootprints({ ...row, rowRunsLeft: true }, desk)).toMatch(/rotate\(20\.0 /);
  });

  it("runs the row to the left when the camera saw it so", () => {
    const svg = drawFootprints({ gapsM: tooClose.gapsM, passes: judgement.passes, rowRunsLeft: true }, desk);
    const poles = poleCentres(svg).slice(0, 6);
    expect(poles[0]!).toBeGreaterThan(poles[5]!);
  });

  it("tells hand-made, doubtful and certain landings apart", () => {
    const svg = DRAWINGS.footprints!(tooClose, judgement, desk);
    const groups = judgement.passes[0]!.landings.map((l) => ({
      l,
      drawn: new RegExp(`<g data-landing="${l.id}">(.*?)</g></g>`, "s").exec(svg)?.[1],
    })).filter((entry) => entry.drawn !== undefined);
    expect(groups.length).toBeGreaterThan(10);
    for (const { l, drawn } of groups) {
      expect(drawn!.includes("stroke-dasharray")).toBe(l.probability < 0.6);
      expect(drawn!.includes("placed by hand")).toBe(l.source === "hand");
    }
  });
});

describe("gaps laid over one another", () => {
  it("puts each landing at its share of the gap, in the direction of travel", () => {
    const judgement = sampleJudgement(tooClose);
    const svg = DRAWINGS["gap-overlay"]!(tooClose, judgement, desk);
    const [left, right] = poleCentres(svg) as [number, number];
    const expected = judgement.passes
      .flatMap((pass) => travelLandings(pass, 5))
      .map((t) => left + t.fraction * (right - left));
    expect(markCentres(svg).map((mark) => mark.x)).toHaveLength(expected.length);
    markCentres(svg).forEach((mark, i) => {
      expect(mark.x).toBeCloseTo(expected[i]!, 0);
    });
    // Both directions creep onward: the mean share grows from the first gap met to the last.
    for (const pass of judgement.passes) {
      const shares = travelLandings(pass, 5).map((t) => t.fraction);
      expect(shares.at(-1)!).toBeGreaterThan(shares[0]!);
    }
  });

  it("numbers passes as everywhere else, also when an earlier one does not count", () => {
    const judgement = sampleJudgement(tooClose);
    const passes = judgement.passes.map((pass, i) => ({ ...pass, used: i !== 0 }));
    const svg = drawGapOverlay({ ...judgement, passes, gapsM: tooClose.gapsM, targetFractions: [] }, desk);
    expect([...svg.matchAll(/>(Pass \d)</g)].map(([, name]) => name)).toEqual(["Pass 2", "Pass 3"]);
  });

  it("wraps a spread that reaches over a pole", () => {
    const judgement = { ...sampleJudgement(tooClose), meanFraction: 0.97, scatter: 0.08 };
    const svg = DRAWINGS["gap-overlay"]!(tooClose, judgement, desk);
    const summary = /<g data-summary="">.*/s.exec(svg)![0];
    const [left, right] = poleCentres(svg) as [number, number];
    const pieces = elements(summary, "rect")
      .filter((r) => "data-spread" in r)
      .slice(0, 2);
    expect(pieces.reduce((sum, piece) => sum + Number(piece.width), 0)).toBeCloseTo(0.16 * (right - left), 0);
    expect(Number(pieces[1]!.x)).toBeCloseTo(left, 1);
  });
});

describe("offset by gap", () => {
  it("draws the creep line with the slope it was given", () => {
    const judgement = sampleJudgement(tooClose);
    const svg = DRAWINGS.offsets!(tooClose, judgement, desk);
    const [line] = elements(svg, "line").filter((l) => "data-creep" in l);
    const edges = elements(svg, "line")
      .filter((l) => "data-pole-edge" in l)
      .map((l) => Number(l.y1));
    const pixelsPerMetre = (Math.max(...edges) - Math.min(...edges)) / 0.45;
    const gapWidth = (900 - 12 - 54) / 5;
    const slope =
      (-(Number(line!.y2) - Number(line!.y1)) / pixelsPerMetre / (Number(line!.x2) - Number(line!.x1))) *
      gapWidth;
    expect(slope).toBeCloseTo(judgement.creepMPerGap!.value, 4);
  });

  it("starts anew at the pole when the creep runs past it", () => {
    const row: SampleRow = { ...tooClose, stepM: 0.6, bothWays: false };
    const svg = DRAWINGS.offsets!(row, sampleJudgement(row), desk);
    const lines = elements(svg, "line").filter((l) => "data-creep" in l);
    expect(lines.length).toBeGreaterThan(1);
    const edges = elements(svg, "line")
      .filter((l) => "data-pole-edge" in l)
      .map((l) => Number(l.y1));
    for (const line of lines) {
      expect(Math.max(Number(line.y1), Number(line.y2))).toBeLessThanOrEqual(Math.max(...edges) + 0.1);
      expect(Math.min(Number(line.y1), Number(line.y2))).toBeGreaterThanOrEqual(Math.min(...edges) - 0.1);
    }
  });
});

describe("spread in each gap", () => {
  it("is the standard deviation of the offsets in the direction of travel", () => {
    // Worked by hand: offsets −1, 0 and +1 cm have a standard deviation of 1 cm.
    const judgement = sampleJudgement({ ...tooClose, gapsM: [0.45], passes: 3 });
    const passes = judgement.passes.map((pass, i) => ({
      ...pass,
      landings: [
        {
          ...pass.landings[0]!,
          paw: "LH" as const,
          place: "row" as const,
          gap: 0,
          offsetM: pass.direction * (i - 1) * 0.01,
          gapFraction: 0.5,
        },
      ],
    }));
    const [spread] = gapSpreads({ gapsM: [0.45], passes });
    expect(spread!.n).toBe(3);
    expect(spread!.deviationM).toBeCloseTo(0.01, 6);
  });
});

describe("stance bars", () => {
  it("are as long as the stances", () => {
    const judgement = sampleJudgement(SAMPLES[2]!);
    const svg = DRAWINGS.stances!(SAMPLES[2]!, judgement, desk);
    const bars = judgement.passes.flatMap((pass) =>
      pass.landings.map((l) => ({
        stanceS: l.offS - l.onS,
        width: Number(
          new RegExp(`data-landing="${l.id}"><rect x="[-\\d.]+" y="[-\\d.]+" width="([\\d.]+)"`).exec(
            svg,
          )![1],
        ),
      })),
    );
    const pixelsPerSecond = bars[0]!.width / bars[0]!.stanceS;
    for (const { stanceS, width } of bars) expect(width).toBeCloseTo(stanceS * pixelsPerSecond, 1);
  });
});

describe("verdict picture", () => {
  const poleAt = (svg: string) => poleCentres(svg);

  it("moves the pole by the change of spacing, to scale", () => {
    const svg = DRAWINGS["verdict-picture"]!(tooClose, sampleJudgement(tooClose), desk);
    const [first, now, next] = poleAt(svg) as [number, number, number];
    expect((next - first) / (now - first)).toBeCloseTo(0.47 / 0.45, 3);
  });

  it("shifts the landings back when the start moves away from the first pole", () => {
    const row = SAMPLES.find((sample) => sample.kind === "fits-move-start")!;
    const svg = DRAWINGS["verdict-picture"]!(row, sampleJudgement(row), desk);
    const [, from, to] =
      /<g data-shift=""><g[^>]*><line x1="([-\d.]+)"[^>]*><\/line><path d="M([-\d.]+) /.exec(svg)!;
    const [first, second] = poleAt(svg) as [number, number];
    expect((Number(from) - Number(to)) / (second - first)).toBeCloseTo(0.14 / 0.45, 2);
  });

  it("leaves the poles where they are when the spacing stays", () => {
    const row = SAMPLES.find((sample) => sample.kind === "fits")!;
    expect(poleAt(DRAWINGS["verdict-picture"]!(row, sampleJudgement(row), desk))).toHaveLength(2);
  });
});

describe("markup", () => {
  it("escapes text and attributes, and drops characters that XML forbids", () => {
    expect(escapeText(`<a b="c">&'\u0000\u0008\uFFFE`)).toBe("&lt;a b=&quot;c&quot;&gt;&amp;&#39;");
    expect(element("text", { title: '"><script>' }, "</text><script>").text).toBe(
      '<text title="&quot;&gt;&lt;script&gt;">&lt;/text&gt;&lt;script&gt;</text>',
    );
  });
});

describe("lengths", () => {
  it("are written with a true minus sign, a space and the unit", () => {
    expect(lengthText(0.442, "cm")).toBe("44.2 cm");
    expect(signedLengthText(-0.021, "cm")).toBe("−2.1 cm");
    expect(signedLengthText(0.0002, "cm")).toBe("0.0 cm");
    expect(rangeText([0.43, 0.4526], "cm")).toBe("43.0 to 45.3 cm");
    expect(spacingText(0.45, "cm")).toBe("45 cm");
    expect(spacingText(0.445, "cm")).toBe("44.5 cm");
    // One inch is 25.4 mm by definition (international yard and pound agreement, 1959).
    expect(spacingText(0.4572, "in")).toBe("18 in");
  });
});

describe("shares of a gap", () => {
  it("have a mean on the circle", () => {
    expect(meanShare([0.97, 0.01])).toBeCloseTo(0.99, 9);
    expect(meanShare([0.4, 0.6])).toBeCloseTo(0.5, 9);
    expect(meanShare([0, 0.5])).toBeNull();
    expect(meanShare([])).toBeNull();
  });
});
