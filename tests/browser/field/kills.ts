import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { type BrowserContext, chromium, type Page } from "playwright-core";
import type { PoleMarks } from "../../../src/ground/types.ts";
import { chromiumArgs, findChromium } from "../../chromium.mjs";
import { Chance } from "./seeded.ts";

/** Where on the path the page is killed. */
export const phases = ["choosing", "poles", "analysing", "landings", "verdict", "report"] as const;
export type Phase = (typeof phases)[number];

/** How: the page's process crashes, the whole browser is killed, the tab is closed, or it is loaded again. */
const ways = ["crash", "kill the browser", "close the tab", "reload"] as const;
type Way = (typeof ways)[number];

export interface KillReport {
  kills: number;
  byPhase: Record<Phase, number>;
  byWay: Record<Way, number>;
  /** What was on the screen before and not after; empty when nothing was lost. */
  lost: string[];
  /** Analyses that were broken off, and frames that were looked at before and not looked at again after. */
  analysesBrokenOff: number;
  framesDoneBefore: number;
  framesTakenUp: number;
}

const clipFile = fileURLToPath(new URL("../../../fixtures/clips/demo-fits.mp4", import.meta.url));
const truth: { picture: { widthPx: number; heightPx: number }; marks: PoleMarks } = JSON.parse(
  readFileSync(new URL("../../../fixtures/clips/demo-fits.json", import.meta.url), "utf8"),
);

/** What was on the screen for a shorter time nobody has seen, ms. */
const SEEN_MS = 50;
/** Every so many analyses broken off one is let go to its end. */
const FINISHED_EVERY = 4;

/** Longest wait from coming to a screen to the kill, ms: about as long as a round of work on it takes here. */
const lingerMs: Record<Phase, number> = {
  choosing: 1500,
  poles: 2500,
  analysing: 8000,
  landings: 2500,
  verdict: 2000,
  report: 2000,
};

/**
 * Goes along the path of a clip again and again, kills the page at a random moment of it, opens it again, and compares
 * what is there with what was on the screen. A browser profile on disk outlives each kill.
 */
export async function killAndCompare(options: {
  siteUrl: string;
  kills: number;
  seed: number;
  onKill?: (line: string) => void;
}): Promise<KillReport> {
  const folder = mkdtempSync(join(tmpdir(), "pawgap-kill-"));
  const walk = new Walk(options.siteUrl, folder, new Chance(options.seed));
  const report: KillReport = {
    kills: 0,
    byPhase: zeroes(phases),
    byWay: zeroes(ways),
    lost: [],
    analysesBrokenOff: 0,
    framesDoneBefore: 0,
    framesTakenUp: 0,
  };
  try {
    await walk.start();
    while (report.kills < options.kills) {
      const phase = phases[report.kills % phases.length] as Phase;
      const round = await walk.round(phase);
      report.kills++;
      report.byPhase[phase]++;
      report.byWay[round.way]++;
      report.lost.push(...round.lost.map((what) => `kill ${report.kills} (${phase}, ${round.way}): ${what}`));
      if (round.analysis) {
        report.analysesBrokenOff++;
        report.framesDoneBefore += round.analysis.doneBefore;
        report.framesTakenUp += round.analysis.takenUp;
      }
      options.onKill?.(
        `${report.kills} ${phase}: ${round.way} after ${round.afterMs} ms, ${round.lost.length === 0 ? "all there" : round.lost.join("; ")}` +
          (round.analysis
            ? `, ${round.analysis.takenUp} of ${round.analysis.doneBefore} frames taken up`
            : ""),
      );
    }
    return report;
  } finally {
    await walk.end();
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
  }
}

function zeroes<Name extends string>(names: readonly Name[]): Record<Name, number> {
  return Object.fromEntries(names.map((name) => [name, 0])) as Record<Name, number>;
}

interface Round {
  way: Way;
  afterMs: number;
  lost: string[];
  analysis: { doneBefore: number; takenUp: number } | null;
}

/** Lines that stand for what a person sees of their work on a screen. */
type Sight = string[];

class Walk {
  #context: BrowserContext | null = null;
  #page: Page | null = null;
  /** Clips that have come this far: where the next round may begin. */
  #clip: Record<"tapped" | "marked" | "measured", string | null> = {
    tapped: null,
    marked: null,
    measured: null,
  };
  /** What was on the screen at work, the newest last, and since when. */
  #sights: { sight: Sight; sinceMs: number }[] = [];
  /** Whether something was being done when the page was killed, and when that was. */
  #doing = false;
  #killedMs = 0;
  #doneBefore = 0;
  #unfinished = 0;

  constructor(
    private readonly siteUrl: string,
    private readonly profile: string,
    private readonly chance: Chance,
  ) {}

  get page(): Page {
    if (!this.#page) throw new Error("No page is open.");
    return this.#page;
  }

  async start(): Promise<void> {
    this.#context = await chromium.launchPersistentContext(this.profile, {
      executablePath: findChromium() ?? "",
      args: chromiumArgs,
      viewport: { width: 390, height: 844 },
    });
    await this.#freshPage();
  }

  async end(): Promise<void> {
    await this.#context?.close().catch(() => {});
  }

  async round(phase: Phase): Promise<Round> {
    await this.#goTo(phase);
    this.#sights = [];
    this.#note(phase === "choosing" ? [] : await this.#look(phase));
    this.#doing = false;
    this.#doneBefore = 0;
    const way = this.chance.of(ways);
    const afterMs = Math.round(this.chance.share() * lingerMs[phase]);
    let over = false;
    const atWork = this.#work(phase, () => over).catch((error: unknown) => {
      // Being killed in the middle of something is what this is about; failing before is not.
      if (!over) throw error;
    });
    await Promise.race([atWork, new Promise((done) => setTimeout(done, afterMs))]);
    over = true;
    await this.#kill(way);
    await atWork;
    const lost = await this.#compare(phase);
    const analysis =
      phase === "analysing" && this.#doneBefore > 0
        ? { doneBefore: this.#doneBefore, takenUp: await this.#takenUp() }
        : null;
    // Most are left as they are, to be broken off once more.
    if (phase === "analysing" && ++this.#unfinished % FINISHED_EVERY === 0) await this.#finish();
    return { way, afterMs, lost, analysis };
  }

  // The way to a screen, and being sure of it.

  async #goTo(phase: Phase): Promise<void> {
    if (phase === "choosing") return this.#open("/", "Check a clip");
    if (phase === "poles") {
      this.#clip.tapped ??= await this.#choose();
      await this.#open(`/clip/${this.#clip.tapped}/poles`);
      return this.#pictureShown();
    }
    if (phase === "analysing") {
      if (!this.#clip.marked) {
        this.#clip.marked = await this.#choose();
        await this.#open(`/clip/${this.#clip.marked}/poles`);
        await this.#pictureShown();
        await this.#markAll();
      } else {
        await this.#open(`/clip/${this.#clip.marked}/poles`);
        await this.#pictureShown();
        await this.#spoilMarks();
      }
      await this.page.getByRole("button", { name: "Find the landings" }).click();
      await this.page.getByRole("progressbar", { name: "How much is done" }).waitFor();
      return;
    }
    if (!this.#clip.measured) {
      await this.#goTo("analysing");
      await this.#finish();
      this.#clip.measured = this.#clip.marked;
      this.#clip.marked = null;
    }
    await this.#open(`/clip/${this.#clip.measured}/${phase}`);
    if (phase === "landings") await this.#bars().first().waitFor();
    else if (phase === "verdict") await this.page.locator(".verdict-sentence").waitFor();
    else await this.page.locator("iframe.report-sheet").waitFor();
  }

  async #open(path: string, text?: string): Promise<void> {
    await this.page.goto(`${this.siteUrl}#${path}`);
    await this.page.reload();
    if (text) await this.page.getByText(text, { exact: true }).waitFor();
  }

  /** A new clip; tells its id. */
  async #choose(): Promise<string> {
    await this.#open("/", "Check a clip");
    await this.page.getByLabel("Check a clip", { exact: true }).setInputFiles(clipFile);
    await this.page.getByRole("heading", { name: "Clip", exact: true }).waitFor();
    return this.#idInAddress();
  }

  #idInAddress(): string {
    const id = /#\/clip\/([^/]+)\//.exec(this.page.url())?.[1];
    if (!id) throw new Error("The address names no clip.");
    return id;
  }

  async #pictureShown(): Promise<void> {
    await this.page.locator(".stage").waitFor();
    await this.page.locator(".stage-wait").waitFor({ state: "detached" });
    // Marks are compared where they lie on the whole picture.
    const whole = this.page.getByRole("button", { name: "Whole picture" });
    if (await whole.isEnabled()) await whole.click();
  }

  async #markAll(): Promise<void> {
    const { page } = this;
    while ((await page.locator(".pole-list li").count()) < truth.marks.poles.length) await this.#tapNext();
    if ((await page.locator(".pole-end").count()) < 2 * truth.marks.poles.length) await this.#tapNext();
    await page.getByLabel("Spacing, pole to pole").fill("50");
    await page.getByLabel(/Pole length/).fill("100");
    await page.getByLabel(/Height tapped/).fill("6");
  }

  /** Marks that are those of an earlier analysis lead past it. */
  async #spoilMarks(): Promise<void> {
    const go = this.page.getByRole("button", { name: "To the landings" });
    if (!(await go.isVisible())) return;
    const height = this.page.getByLabel(/Height tapped/);
    await height.fill((await height.inputValue()) === "6" ? "6.5" : "6");
  }

  // What is done on each screen until the page is killed.

  async #work(phase: Phase, isOver: () => boolean): Promise<void> {
    if (phase === "choosing") {
      await this.page.getByLabel("Check a clip", { exact: true }).setInputFiles(clipFile);
      await this.page.getByRole("heading", { name: "Clip", exact: true }).waitFor();
      await this.page.locator(".facts").waitFor();
      this.#note([this.#idInAddress()]);
      return;
    }
    if (phase === "analysing") {
      while (!isOver()) {
        const text = await this.page
          .locator(".run-figures")
          .textContent({ timeout: 500 })
          .catch(() => null);
        const done = Number(/frame (\d+) of/.exec(text ?? "")?.[1] ?? 0);
        if (done > this.#doneBefore) this.#doneBefore = done;
        if (text === null && !isOver() && (await this.page.locator(".verdict-sentence").isVisible())) return;
      }
      return;
    }
    const act = {
      poles: this.#editPoles,
      landings: this.#editLandings,
      verdict: this.#ask,
      report: this.#askReport,
    };
    while (!isOver()) {
      this.#doing = true;
      await act[phase].call(this);
      const sight = await this.#look(phase);
      // A look that came through after the kill was one at the page that followed.
      if (isOver()) return;
      this.#note(sight);
      this.#doing = false;
    }
  }

  async #editPoles(): Promise<void> {
    const { page } = this;
    const marked = await page.locator(".pole-end").count();
    const can = this.chance.share();
    if (marked < 12 && can < 0.7) return this.#tapNext();
    if (marked === 0 || can < 0.8) {
      await page.getByLabel(/Pole length/).fill(String(90 + this.chance.below(30)));
      return;
    }
    if (can < 0.9) {
      await page
        .getByRole("button", { name: "Undo" })
        .click({ timeout: 1000 })
        .catch(() => {});
      return;
    }
    const stage = page.getByRole("application");
    await stage.focus();
    for (let n = this.chance.below(4); n >= 0; n--) await page.keyboard.press("ArrowRight");
  }

  async #tapNext(): Promise<void> {
    const { page } = this;
    const asked = await page.locator(".poles-ask, .next-end").allTextContents();
    const said = asked
      .map((text) => /pole (\d+), (near|far) end/i.exec(text))
      .find((match) => match !== null);
    const at =
      truth.marks.poles[Number(said?.[1] ?? 1) - 1]?.[said?.[2]?.toLowerCase() === "far" ? "far" : "near"];
    const box = await page.locator(".stage").boundingBox();
    if (!at || !box) return;
    const { widthPx, heightPx } = truth.picture;
    const scale = Math.min(box.width / widthPx, box.height / heightPx);
    const before = await page.locator(".pole-end").count();
    await page.mouse.click(
      box.x + (box.width - widthPx * scale) / 2 + at.x * scale,
      box.y + (box.height - heightPx * scale) / 2 + at.y * scale,
    );
    await page.waitForFunction((n) => document.querySelectorAll(".pole-end").length !== n, before, {
      timeout: 2000,
    });
  }

  #bars() {
    return this.page.getByRole("region", { name: "When each paw stands" }).getByRole("button");
  }

  async #editLandings(): Promise<void> {
    const { page } = this;
    const bars = this.#bars();
    const count = await bars.count();
    if (count < 8) {
      // Enough was deleted: the rest comes back by undo, or stays away for good.
      const undo = page.getByRole("button", { name: "Undo" });
      if (await undo.isEnabled()) return undo.click();
    }
    await bars.nth(this.chance.below(count)).click();
    const panel = page.getByRole("region", { name: "The chosen landing" });
    await panel.waitFor();
    const can = this.chance.share();
    if (can < 0.15 && count > 8) await panel.getByRole("button", { name: "Delete this landing" }).click();
    else if (can < 0.5) {
      await panel
        .getByRole("button", { name: this.chance.of(["left hind", "right hind"]), exact: true })
        .click();
    } else if (can < 0.7) await panel.getByRole("button", { name: "Lifts off in this frame" }).click();
    else {
      await page.getByRole("application").focus();
      for (let n = this.chance.below(5); n >= 0; n--) await page.keyboard.press("Shift+ArrowRight");
    }
  }

  async #ask(): Promise<void> {
    const { page } = this;
    const aim = page.getByLabel("Aim");
    const values = await aim
      .locator("option")
      .evaluateAll((all) => all.map((one) => (one as HTMLOptionElement).value));
    await aim.selectOption(this.chance.of(values));
    await page.locator(".verdict-sentence").waitFor();
  }

  async #askReport(): Promise<void> {
    await this.page.frameLocator("iframe.report-sheet").locator("h1").first().waitFor();
  }

  #note(sight: Sight): void {
    this.#sights.push({ sight, sinceMs: performance.now() });
  }

  // What a person sees of their work.

  async #look(phase: Phase): Promise<Sight> {
    const { page } = this;
    if (phase === "poles") {
      return page.evaluate(() => [
        ...[...document.querySelectorAll(".pole-end")].map((end) =>
          ["cx", "cy"].map((name) => Number(end.getAttribute(name)).toFixed(3)).join(" "),
        ),
        ...[...document.querySelectorAll<HTMLInputElement>("main input[inputmode]")].map(
          (field) => `${field.labels?.[0]?.textContent}: ${field.value}`,
        ),
      ]);
    }
    if (phase === "landings") {
      return page.evaluate(() => [
        ...[...document.querySelectorAll(".stance-bar")].map((bar) => bar.ariaLabel ?? ""),
        ...[...document.querySelectorAll(".landing-panel p")].map((line) => `panel: ${line.textContent}`),
      ]);
    }
    if (phase === "verdict") {
      return page.evaluate(() => [
        document.querySelector(".verdict-sentence")?.textContent ?? "",
        document.querySelector("select")?.value ?? "",
      ]);
    }
    if (phase === "report") {
      const sheet = page.frameLocator("iframe.report-sheet").locator("body");
      return [((await sheet.textContent()) ?? "").replace(/\d+[:.]\d+/g, "")];
    }
    return [];
  }

  // The end, and what is there after it.

  async #kill(way: Way): Promise<void> {
    const context = this.#context;
    if (!context) return;
    this.#killedMs = performance.now();
    if (way === "reload") return void (await this.page.reload());
    if (way === "close the tab") {
      await this.page.close();
      return this.#freshPage();
    }
    const debug = await context.newCDPSession(this.page);
    if (way === "crash") {
      this.#killedMs = performance.now();
      const crashed = this.page.waitForEvent("crash");
      debug.send("Page.crash").catch(() => {});
      await crashed;
      await this.page.close();
      return this.#freshPage();
    }
    const { processInfo } = await (await context.browser()?.newBrowserCDPSession())!.send(
      "SystemInfo.getProcessInfo",
    );
    const browser = processInfo.find((one) => one.type === "browser");
    if (!browser) throw new Error("The browser does not tell its process.");
    const gone = new Promise((done) => context.once("close", done));
    this.#killedMs = performance.now();
    process.kill(browser.id, "SIGKILL");
    await gone;
    await this.start();
  }

  async #freshPage(): Promise<void> {
    if (!this.#context) return;
    this.#page = await this.#context.newPage();
    this.#page.setDefaultTimeout(60_000);
    await this.#page.goto(this.siteUrl);
  }

  async #compare(phase: Phase): Promise<string[]> {
    const { page } = this;
    if (phase === "choosing") {
      await this.#open("/", "Check a clip");
      const lost: string[] = [];
      for (const id of this.#certain().at(0)?.sight ?? []) {
        await this.#open(`/clip/${id}/film`);
        if (!(await appears(page, ".facts"))) lost.push(`the clip ${id} does not open`);
      }
      return lost;
    }
    if (phase === "analysing") {
      await this.#open(`/clip/${this.#clip.marked}/poles`);
      await this.#pictureShown();
      const there = (await this.#look("poles")).length;
      return there >= 12 ? [] : [`${there} marks and fields are left after an analysis was broken off`];
    }
    const id = phase === "poles" ? this.#clip.tapped : this.#clip.measured;
    await this.#open(`/clip/${id}/${phase}`);
    if (phase === "poles") await this.#pictureShown();
    else if (phase === "landings") await this.#bars().first().waitFor();
    else if (phase === "verdict") await page.locator(".verdict-sentence").waitFor();
    else await page.frameLocator("iframe.report-sheet").locator("h1").first().waitFor();
    const sights = this.#certain();
    const now: Sight[] = [];
    for (const { sight } of sights) {
      const chosen = sight.find((line) => line.startsWith("panel: "));
      if (chosen) await this.#chooseAgain(chosen);
      now.push(await this.#look(phase));
    }
    // One more thing may have come to pass: what was being done when the page went.
    const allowed = this.#doing ? 2 : 0;
    const isThere = sights.some(
      ({ sight }, k) => differences(sight, now[k] ?? []) <= (k === sights.length - 1 ? allowed : 0),
    );
    if (isThere) return [];
    const [first = { sight: [] }] = sights;
    return [
      `${JSON.stringify(missing(first.sight, now[0] ?? []))} is not there; there is ${JSON.stringify(missing(now[0] ?? [], first.sight))}`,
    ];
  }

  /** The newest sight that was on the screen long enough to be seen, and those after it: one of them must be back. */
  #certain() {
    const last = this.#sights.findLastIndex(({ sinceMs }) => sinceMs <= this.#killedMs - SEEN_MS);
    return this.#sights.slice(Math.max(0, last));
  }

  /** Chooses the landing whose times the panel showed. */
  async #chooseAgain(line: string): Promise<void> {
    const times = /(\d+\.\d+) to (\d+\.\d+) s/.exec(line);
    const bar = this.page.locator(`.stance-bar[aria-label*="${times?.[0]}"]`).first();
    if (await bar.count()) await bar.click();
  }

  /** Goes on with the analysis, and tells how many looks came from before the kill. */
  async #takenUp(): Promise<number> {
    await this.#open(`/clip/${this.#clip.marked}/run`);
    const told = this.page.locator("[data-taken-up]");
    const verdict = this.page.locator(".verdict-sentence");
    let most = 0;
    for (let still = 0; still < 12 && !(await verdict.isVisible()); still++) {
      const now = Number(await told.getAttribute("data-taken-up", { timeout: 250 }).catch(() => 0));
      if (now > most) still = 0;
      most = Math.max(most, now);
      await this.page.waitForTimeout(250);
    }
    // Looks of earlier rounds are taken up too.
    return Math.min(most, this.#doneBefore);
  }

  async #finish(): Promise<void> {
    await this.#open(`/clip/${this.#clip.marked}/run`);
    await this.page.locator(".verdict-sentence").waitFor({ timeout: 240_000 });
  }
}

const missing = (from: Sight, there: Sight) => from.filter((line) => !there.includes(line));
const differences = (a: Sight, b: Sight) => Math.max(missing(a, b).length, missing(b, a).length);

async function appears(page: Page, selector: string): Promise<boolean> {
  return page
    .locator(selector)
    .waitFor({ timeout: 20_000 })
    .then(
      () => true,
      () => false,
    );
}
