import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import axe from "axe-core";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { simulatePasses } from "../../src/app/kennel/example-passes.ts";
import { escapeText } from "../../src/charts/svg.ts";
import { renderNaturalPage } from "../../src/report/natural-page.ts";
import { renderOnePage } from "../../src/report/one-page.ts";
import type { ReportInput } from "../../src/report/parts.ts";
import { cautions } from "../../src/spacing/cautions.ts";
import { readNaturalStep } from "../../src/spacing/natural-step.ts";
import { SAMPLES, sampleJudgement } from "../unit/charts-sample.ts";
import { sampleAnalysis, sampleLayout } from "../unit/report-sample.ts";
import { openBrowser } from "./harness.ts";

// The reports on one sheet, printed by Chromium. Set PAWGAP_SHOTS to a folder to get the PDFs.

const shots = process.env.PAWGAP_SHOTS;
let browser: Browser;
let page: Page;

beforeAll(async () => {
  browser = await openBrowser();
  page = await browser.newPage({ bypassCSP: true });
});
afterAll(() => browser?.close());

async function sheetsOf(html: string, name: string): Promise<Record<"A4" | "Letter", number>> {
  await page.setContent(html);
  const count = async (format: "A4" | "Letter") => {
    const pdf = await page.pdf({ format });
    if (shots) {
      mkdirSync(shots, { recursive: true });
      writeFileSync(join(shots, `${name}-${format}.pdf`), pdf);
    }
    return pdf.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0;
  };
  return { A4: await count("A4"), Letter: await count("Letter") };
}

async function faults(): Promise<string[]> {
  await page.evaluate(axe.source);
  return page.evaluate(async () => {
    const { axe } = globalThis as unknown as { axe: typeof import("axe-core") };
    const { violations } = await axe.run(document);
    return violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html.slice(0, 200)}`);
  });
}

/** A wide logo, drawn by the browser. */
async function logo(): Promise<string> {
  await page.setContent("<canvas width=600 height=300></canvas>");
  return page.locator("canvas").evaluate((canvas: HTMLCanvasElement) => {
    canvas.getContext("2d")?.fillRect(20, 20, 560, 260);
    return canvas.toDataURL("image/png");
  });
}

function inputOf(sample: (typeof SAMPLES)[number]): ReportInput {
  const judgement = sampleJudgement(sample);
  const layout = sampleLayout(sample.gapsM);
  return {
    judgement,
    layout,
    analyses: [sampleAnalysis(judgement, layout)],
    dog: { name: "Juniper" },
    session: { date: Date.UTC(2026, 2, 14, 10), gait: "trot", aim: "longer-reach" },
    practitioner: { name: "A. Lindqvist", practice: "Millbrook Dog Gym" },
    cautions: [],
    units: "cm",
  };
}

describe("the report on one page", () => {
  it("is one page of A4 and of Letter for every verdict, with all that an owner needs", async () => {
    for (const sample of SAMPLES) {
      const input = inputOf(sample);
      const html = renderOnePage(input);
      const { verdict } = input.judgement;
      for (const text of [
        verdict.sentence,
        verdict.evidence,
        verdict.nextTime,
        "not a diagnosis",
        "A. Lindqvist",
      ]) {
        expect(html).toContain(escapeText(text));
      }
      expect([sample.kind, await sheetsOf(html, sample.kind)]).toEqual([sample.kind, { A4: 1, Letter: 1 }]);
    }
  });

  it("stays on one page with everything that may be long", async () => {
    const sample = SAMPLES.find(({ kind }) => kind === "too-close") ?? SAMPLES[0]!;
    const input = inputOf(sample);
    const html = renderOnePage({
      ...input,
      dog: { name: "Juniper of the very long pedigree from Millbrook by the river" },
      practitioner: {
        name: "Dr. Annika Lindqvist-Oyelaran, certified canine rehabilitation practitioner",
        practice: "Millbrook Dog Gym, rehabilitation and conditioning of working and companion dogs",
        logo: await logo(),
      },
      session: {
        ...input.session,
        surface: "hard-floor",
        handlerSide: "both",
        howDogFelt: "as-usual",
        knocksSeen: 12,
        notes: "Looked at the handler in every second pass. ".repeat(40),
      },
      cautions: Object.values(cautions).map(({ sentence }) => sentence),
      judgement: {
        ...input.judgement,
        notes: Array.from(
          { length: 9 },
          (_, i) =>
            `Pass ${i + 1} was kept in by hand (Its usual speed). The program would have set it aside: at 2.40 m/s this pass was faster than the others (1.62 m/s).`,
        ),
      },
      units: "in",
    });
    expect(html).toContain(" notes more in the report with every landing");
    expect(await sheetsOf(html, "long")).toEqual({ A4: 1, Letter: 1 });
    expect(await page.locator(".by img").boundingBox()).toMatchObject({ width: expect.any(Number) });
    expect(await faults()).toEqual([]);
  });

  it("of a session over bare ground too, whatever the number of passes", async () => {
    for (const passes of [1, 4, 14]) {
      const natural = readNaturalStep({
        passes: simulatePasses({
          layout: { gapsM: [3], heightsM: [0, 0], targetFractions: [0.5] },
          gait: "walk",
          freeStepM: 0.44,
          rowStepM: 0.44,
          speedMps: 0.8,
          scatter: 0.03,
          startFraction: 0.1,
          unevenness: 0,
          passes,
          seed: 4,
        }),
        gait: "walk",
      });
      const html = renderNaturalPage({
        natural,
        dog: { name: "Biscuit" },
        session: { date: Date.UTC(2026, 2, 14, 10), gait: "walk", notes: "A cool morning." },
        practitioner: { name: "A. Lindqvist", logo: null },
        cautions: Object.values(cautions).map(({ sentence }) => sentence),
        units: "cm",
      });
      expect(html).toContain(natural.sentence);
      expect(html).not.toMatch(/NaN|Infinity|undefined/);
      expect([passes, await sheetsOf(html, `natural-${passes}`)]).toEqual([passes, { A4: 1, Letter: 1 }]);
      expect(await faults()).toEqual([]);
    }
  });
});
