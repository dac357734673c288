import { readFileSync } from "node:fs";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { openBrowser, type Site, startSite } from "./harness.ts";

/** What fixtures/odd/make.mjs says of a file; times are those that ffprobe reads. */
interface Truth {
  timesS: number[];
  codec: string;
  storedWidth: number;
  storedHeight: number;
  rotationDeg: number;
  firstNumber: number;
}

const truths: Record<string, Truth> = JSON.parse(
  readFileSync(new URL("../../fixtures/odd/truth.json", import.meta.url), "utf8"),
);

let site: Site;
let browser: Browser;
let page: Page;

beforeAll(async () => {
  site = await startSite();
  browser = await openBrowser();
  page = await openPage();
});

/** A page with the checks on it; `before` runs in it ahead of everything else. */
async function openPage(before?: () => void): Promise<Page> {
  const opened = await browser.newPage();
  if (before) await opened.addInitScript(before);
  await opened.goto(site.file("tests/browser/pages/video.html"));
  await opened.waitForFunction(() => "clips" in window);
  return opened;
}

afterAll(async () => {
  await browser?.close();
  await site?.close();
});

function truthOf(name: string): Truth {
  const truth = truths[name];
  if (!truth) throw new Error(`fixtures/odd/truth.json says nothing of ${name}.`);
  return truth;
}

const urlOf = (name: string) => site.file(`fixtures/odd/${name}`);

const read = (name: string, options: { fromS?: number; toS?: number; heldBytes?: number } = {}) =>
  page.evaluate(([url, truth, options]) => window.clips.page.readAll(url, truth, options), [
    urlOf(name),
    truthOf(name),
    options,
  ] as const);

const readInWorker = (name: string) =>
  page.evaluate(([url, truth]) => window.clips.askWorker("readAll", url, truth), [
    urlOf(name),
    truthOf(name),
  ] as const);

const refusalOf = (name: string) => page.evaluate((url) => window.clips.page.refusal(url), urlOf(name));

/** Every picture once, in order: its number read from its pixels, its time against ffprobe's. */
function expectWhole(reading: Awaited<ReturnType<typeof read>>, truth: Truth): void {
  const { timesS, firstNumber } = truth;
  expect(reading.frames.map(({ number }) => number)).toEqual(timesS.map((_, index) => firstNumber + index));
  expect(reading.frames.map(({ index }) => index)).toEqual(timesS.map((_, index) => index));
  const offset = originOf(truth);
  reading.frames.forEach(({ timeS }, index) => {
    expect(timeS).toBeCloseTo((timesS[index] as number) - offset, 5);
  });
  expect(reading.times).toHaveLength(timesS.length);
  expect(reading.facts.frameCount).toBe(timesS.length);
}

/** A transport stream's clock starts anywhere; the clip counts from its first picture. */
const originOf = (truth: Truth) =>
  truth.timesS[0] !== undefined && truth.timesS[0] > 1 ? truth.timesS[0] : 0;

describe("a clip that the browser decodes", () => {
  it.each([
    "plain-60.mp4",
    "fast-240.mp4",
    "uneven.mp4",
    "turned-90.mov",
    "turned-180.mov",
    "turned-270.mov",
    "open-web.webm",
    "stream.m2ts",
    "trimmed.mp4",
    "single.mp4",
    "wide-pixels.mp4",
  ])("gives every picture of %s once, in order, upright, at its true time", async (name) => {
    const reading = await read(name);
    expect(reading.facts.decoder).toBe("browser");
    expect(reading.fallbackProgress).toEqual([]);
    expectWhole(reading, truthOf(name));
  });

  it("gives the same in a worker", async () => {
    expect(await readInWorker("turned-90.mov")).toEqual(await read("turned-90.mov"));
  });

  it("tells size, rate and turn of the upright picture", async () => {
    expect((await read("turned-90.mov")).facts).toMatchObject({
      widthPx: 120,
      heightPx: 160,
      rotationDeg: 90,
      codec: "avc",
      durationS: 0.5,
      variableRate: false,
    });
    expect((await read("fast-240.mp4")).facts.meanFps).toBeCloseTo(240, 6);
    expect((await read("uneven.mp4")).facts.variableRate).toBe(true);
    expect((await read("wide-pixels.mp4")).facts).toMatchObject({ widthPx: 320, heightPx: 120 });
  });

  it("gives only the frames of the stretch asked for, with their place in the whole clip", async () => {
    const { frames } = await read("plain-60.mp4", { fromS: 0.5, toS: 0.7 });
    expect(frames.map(({ number }) => number)).toEqual([30, 31, 32, 33, 34, 35, 36, 37, 38, 39, 40, 41, 42]);
    expect(frames.map(({ index }) => index)).toEqual(frames.map(({ number }) => number));
  });

  it("reads a picture that stays on the graphics card in a format of its own", async () => {
    const opaque = await openPage(() => {
      Object.defineProperty(VideoFrame.prototype, "format", { get: () => null });
    });
    for (const name of ["plain-60.mp4", "turned-90.mov", "wide-pixels.mp4"]) {
      const reading = await opaque.evaluate(([url, truth]) => window.clips.page.readAll(url, truth), [
        urlOf(name),
        truthOf(name),
      ] as const);
      expect(reading.facts.decoder).toBe("browser");
      expectWhole(reading, truthOf(name));
    }
    await opaque.close();
  });

  it("says that a recording at 38 frames a second is coarse for a trot", async () => {
    const { facts } = await read("uneven.mp4");
    expect(facts.warnings).toContainEqual(expect.stringMatching(/^38 frames a second .* trot/));
    const fast = await read("plain-60.mp4");
    expect(fast.facts.warnings).not.toContainEqual(expect.stringMatching(/frames a second/));
  });

  it("says that slow motion saved as a slow film has no true times", async () => {
    const { facts } = await read("slow-motion.mp4");
    expect(facts.warnings[0]).toMatch(/Filmed at 240 .* play at 30: .* 8 times slower/);
  });

  it("sees that every other picture is a repeat", async () => {
    const { facts } = await read("repeats.mp4");
    expect(facts.warnings).toContainEqual(expect.stringMatching(/60 frames a second but only about 30/));
  });

  it("stops with the cancelled error when the signal goes up", async () => {
    const stopped = await page.evaluate((url) => window.clips.page.stopAfter(url, 5), urlOf("plain-60.mp4"));
    expect(stopped).toEqual({ frames: 5, kind: "cancelled", again: 90 });
  });
});

describe("a broken file", () => {
  it("gives what is there of a recording cut off after its index, and says so", async () => {
    const { frames, facts } = await read("cut-index-first.mp4");
    expectWhole(
      { frames, facts, times: frames.map(() => 0), fallbackProgress: [] },
      truthOf("cut-index-first.mp4"),
    );
    expect(frames.length).toBeLessThan(90);
    expect(facts.warnings).toContainEqual(expect.stringMatching(/cut off: 0\.6 s of 1\.5 s/));
  });

  it("leaves out a damaged stretch, goes on at the next key frame, and says where", async () => {
    const { frames, facts } = await read("damaged.mp4");
    // Every frame given is the one its time says.
    expect(frames.map(({ number }) => number)).toEqual(frames.map(({ index }) => index));
    expect(frames.at(-1)?.index).toBe(119);
    const missing = 120 - frames.length;
    expect(missing).toBeGreaterThan(0);
    expect(missing).toBeLessThanOrEqual(40);
    const sentence = facts.warnings.find((warning) => warning.includes("damaged"));
    expect(sentence).toContain(`${missing} frames are missing`);
  });

  it("gives the same frames of a damaged clip every time", async () => {
    const once = await read("damaged.mp4");
    const again = await read("damaged.mp4");
    expect(again.frames).toEqual(once.frames);
  });

  it.each([
    ["cut-no-index.mp4", "truncated", /index.*missing.*again/],
    ["sound-only.m4a", "not-video", /sound but no picture/],
    ["text.mp4", "not-video", /not a video/],
    ["unknown-codec.avi", "cannot-decode", /cannot be decoded here.*H\.264/],
  ])("refuses %s as %s with a sentence", async (name, kind, sentence) => {
    const refused = await refusalOf(name);
    expect(refused?.kind).toBe(kind);
    expect(refused?.message).toMatch(sentence);
  });

  it("refuses a file of no bytes", async () => {
    const refused = await page.evaluate(() => window.clips.page.refusalOfNothing());
    expect(refused?.kind).toBe("not-video");
    expect(refused?.message).toMatch(/0 bytes/);
  });
});

describe("a clip that only ffmpeg decodes", () => {
  // Room for two stretches of seven frames, so that many seams are crossed.
  const heldBytes = 160 * 120 * 1.5 * 2 * 7;

  it.each(["phone-hevc.mov", "turned-90-hevc.mov", "old-camera.avi", "old-b-frames.avi"])(
    "gives every picture of %s once, in order, upright, at its true time, across seams",
    async (name) => {
      const reading = await read(name, { heldBytes });
      expect(reading.facts.decoder).toBe("fallback");
      expectWhole(reading, truthOf(name));
      expect(reading.facts.warnings.filter((warning) => /decoded|damaged/.test(warning))).toEqual([]);
      expect(reading.fallbackProgress.at(-1)).toBe(1);
    },
  );

  it("gives the same in a worker, in one stretch", async () => {
    const reading = await readInWorker("phone-hevc.mov");
    expectWhole(reading, truthOf("phone-hevc.mov"));
  });

  it("gives only the frames of the stretch asked for", async () => {
    const { frames } = await read("phone-hevc.mov", { fromS: 0.65, toS: 0.85, heldBytes });
    expect(frames.map(({ number }) => number)).toEqual([39, 40, 41, 42, 43, 44, 45, 46, 47, 48, 49, 50, 51]);
  });

  it("leaves out what ffmpeg patches up in a damaged stretch, and says where", async () => {
    const { frames, facts } = await read("damaged-hevc.mov");
    expect(frames.map(({ number }) => number)).toEqual(frames.map(({ index }) => index));
    expect(frames.at(-1)?.index).toBe(89);
    const missing = 90 - frames.length;
    expect(missing).toBeGreaterThan(0);
    expect(missing).toBeLessThanOrEqual(40);
    expect(facts.warnings).toContainEqual(
      expect.stringMatching(`damaged from .* ${missing} frames are missing`),
    );
  });

  it("stops with the cancelled error when the signal goes up, and can be read again", async () => {
    const stopped = await page.evaluate(
      (url) => window.clips.page.stopAfter(url, 5),
      urlOf("phone-hevc.mov"),
    );
    expect(stopped).toEqual({ frames: 5, kind: "cancelled", again: 90 });
  });

  it("stops while it is still opening", async () => {
    const kind = await page.evaluate(
      (url) => window.clips.page.stopWhileOpening(url),
      urlOf("phone-hevc.mov"),
    );
    expect(kind).toBe("cancelled");
  });

  it("takes over where a browser has no video decoder at all, with the same pixels", async () => {
    const agreement = await page.evaluate(
      (url) => window.clips.page.compareDecoders(url),
      urlOf("plain-60.mp4"),
    );
    expect(agreement.decoders).toEqual(["browser", "fallback"]);
    expect(agreement.frames).toBe(90);
    expect(agreement.worstGrey).toBeLessThanOrEqual(2);
    expect(agreement.worstRgb).toBeLessThanOrEqual(4);
  });
});

describe("the picture at a moment", () => {
  it.each([
    "plain-60.mp4",
    "turned-90.mov",
    "turned-180.mov",
    "turned-270.mov",
    "phone-hevc.mov",
    "turned-90-hevc.mov",
    "old-camera.avi",
  ])("is the frame of %s on show then, upright, forwards, backwards and in jumps", async (name) => {
    const truth = truthOf(name);
    const wanted = [0, 1, 2, 12, 11, 10, 9, 20, 25, 3, 29, 29];
    const times = wanted.map((index) => (truth.timesS[index] as number) + 0.004);
    const shown = await page.evaluate(
      ([url, truth, times]) => window.clips.page.readPictures(url, truth, times),
      [urlOf(name), truth, times] as const,
    );
    expect(shown.numbers).toEqual(wanted);
    const sideways = truth.rotationDeg % 180 !== 0;
    expect(shown.widthPx).toBe(sideways ? truth.storedHeight : truth.storedWidth);
    expect(shown.heightPx).toBe(sideways ? truth.storedWidth : truth.storedHeight);
  });

  it("is no wider than asked for, and beyond either end the first or last frame", async () => {
    const truth = truthOf("cut-index-first.mp4");
    const shown = await page.evaluate(
      ([url, truth]) => window.clips.page.readPictures(url, truth, [-1, 99], 160),
      [urlOf("cut-index-first.mp4"), truth] as const,
    );
    expect(shown).toEqual({ widthPx: 160, heightPx: 90, numbers: [0, 34] });
  });
});

describe("a film with drawings over it", () => {
  const write = (
    name: string,
    options: { maxWidthPx: number; fromS?: number; toS?: number; slowdown?: number },
    on: Page = page,
  ) =>
    on.evaluate(([url, truth, options]) => window.clips.page.writeAndRead(url, truth, options), [
      urlOf(name),
      truthOf(name),
      options,
    ] as const);

  const expectRed = ([red = 0, green = 0, blue = 0]: number[]) => {
    expect(red).toBeGreaterThan(200);
    expect(green).toBeLessThan(60);
    expect(blue).toBeLessThan(60);
  };

  it("keeps every frame, upright, at its true distance in time, under the drawing", async () => {
    for (const name of ["uneven.mp4", "turned-90.mov", "trimmed.mp4"]) {
      const truth = truthOf(name);
      const film = await write(name, { maxWidthPx: 1280, slowdown: 4 });
      expect(film.codec).toBe("avc");
      expect(film.frames.map(({ number }) => number)).toEqual(
        truth.timesS.map((_, index) => truth.firstNumber + index),
      );
      film.frames.forEach(({ timeS }, index) => {
        expect(timeS).toBeCloseTo(4 * (truth.timesS[index] as number), 3);
      });
      expect(film.drawn.map(({ index }) => index)).toEqual(truth.timesS.map((_, index) => index));
      expectRed(film.square);
      expect(film.progress.at(-1)).toBe(1);
    }
  });

  it("has every second frame of sixty, each at its time, when it plays at the clip's speed", async () => {
    const truth = truthOf("plain-60.mp4");
    const film = await write("plain-60.mp4", { maxWidthPx: 160 });
    const every = truth.timesS
      .map((timeS, index) => ({ timeS, index }))
      .filter((_, index) => index % 2 === 0);
    expect(film.drawn.map(({ index }) => index)).toEqual(every.map(({ index }) => index));
    film.frames.forEach(({ timeS }, at) => {
      expect(timeS).toBeCloseTo(every[at]?.timeS as number, 3);
    });
    expect(film.progress.at(-1)).toBe(1);
  });

  it("writes a stretch, smaller and slower", async () => {
    const film = await write("cut-index-first.mp4", { maxWidthPx: 160, fromS: 0.2, toS: 0.4, slowdown: 4 });
    expect(film).toMatchObject({ widthPx: 160, heightPx: 90 });
    expect(film.frames.map(({ number }) => number)).toEqual([
      12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24,
    ]);
    film.frames.forEach(({ timeS }, index) => {
      expect(timeS).toBeCloseTo((index * 4) / 60, 4);
    });
    expectRed(film.square);
  });

  it("writes a clip that only ffmpeg decodes", async () => {
    const film = await write("turned-90-hevc.mov", { maxWidthPx: 1280, slowdown: 4 });
    expect(film.frames.map(({ number }) => number)).toEqual(Array.from({ length: 30 }, (_, index) => index));
    expectRed(film.square);
  });

  it("is encoded by ffmpeg where the browser has no encoder, with the same times", async () => {
    const truth = truthOf("uneven.mp4");
    const bare = await openPage(() => Reflect.deleteProperty(globalThis, "VideoEncoder"));
    const film = await write("uneven.mp4", { maxWidthPx: 1280, slowdown: 4 }, bare);
    await bare.close();
    expect(film.codec).toBe("avc");
    expect(film.frames.map(({ number }) => number)).toEqual(truth.timesS.map((_, index) => index));
    film.frames.forEach(({ timeS }, index) => {
      expect(timeS).toBeCloseTo(4 * (truth.timesS[index] as number), 3);
    });
    expectRed(film.square);
  });

  it("stops with the cancelled error when the signal goes up", async () => {
    const stopped = await page.evaluate((url) => window.clips.page.stopWriting(url), urlOf("plain-60.mp4"));
    expect(stopped).toBe("cancelled after 4");
  });

  it("gives a single picture as PNG with the drawing in full-size pixels", async () => {
    const png = await page.evaluate(
      ([url, truth]) => window.clips.page.readAnnotated(url, truth, [0, 0.251, 0.255], 80),
      [urlOf("turned-90.mov"), truthOf("turned-90.mov")] as const,
    );
    expect(png).toMatchObject({ type: "image/png", widthPx: 80, number: 15 });
    // Two of them are of one frame, and each begins from a clean picture.
    expect(png.told).toEqual([
      [0, 0],
      [0.25, 15],
      [0.25, 15],
    ]);
    expectRed(png.square);
  });
});
