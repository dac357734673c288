import { readFileSync } from "node:fs";
import { BlobWriter, TextReader, ZipWriter } from "@zip.js/zip.js/external";
import fc from "fast-check";
import { fitGround } from "../../src/ground/fit.ts";
import type { PoleMarks } from "../../src/ground/types.ts";
import { resultSchema, toResultJson } from "../../src/report/result.ts";
import { judge } from "../../src/spacing/judge.ts";
import { openBackup } from "../../src/store/backup.ts";
import { DEFAULT_SETTINGS } from "../../src/store/device-keeper.ts";
import { clipRecord, dogRecord, sessionRecord, settingsRecord } from "../../src/store/records.ts";
import { KeeperError } from "../../src/store/types.ts";
import type { FfmpegProgram, ProgramTools } from "../../src/video/ffmpeg-program.ts";
import { openClip } from "../../src/video/open.ts";
import { probeClip } from "../../src/video/probe.ts";
import { readShownPictures } from "../../src/video/showinfo.ts";
import { ClipError } from "../../src/video/types.ts";
import { SAMPLES, sampleJudgement } from "./charts-sample.ts";
import { sampleAnalysis, sampleLayout } from "./report-sample.ts";
import { clipDraft, dogDraft, sessionDraft } from "./store-records.ts";

/**
 * Everything that reads what comes from outside, each with a property that must hold for whatever it is given: it is
 * taken as it should be or refused with a sentence; nothing else is touched.
 */
export interface Importer {
  name: string;
  /** Share of all cases, out of the sum over all importers. */
  weight: number;
  /** Rejects with the smallest case that breaks the property. */
  fuzz(cases: number, seed: number): Promise<void>;
}

const odd = (name: string) => readFileSync(new URL(`../../fixtures/odd/${name}`, import.meta.url));

const kept = { id: "a1", changedAt: 1_772_000_000_000, addedAt: 1_772_000_000_000 };
const row = SAMPLES[0]!;
const judgement = sampleJudgement(row);
const layout = sampleLayout(row.gapsM);
const analysis = sampleAnalysis(judgement, layout);
const dog = { ...dogDraft({ photo: "data:image/png;base64,iVBORw0KGgo=" }), ...kept };
const session = { ...sessionDraft("a1", { judgement }), ...kept };
const clip = {
  ...clipDraft("a1", { analysis, marks: analysis.marks, editedPasses: analysis.passes }),
  ...kept,
};
const kennel = {
  kind: "pawgap-kennel",
  format: 1,
  madeAt: kept.addedAt,
  dogs: [dog],
  sessions: [session],
  settings: DEFAULT_SETTINGS,
};
const result = toResultJson({ analysis, judgement, layout });
const probed = {
  format: { format_name: "avi", start_time: "0.000000", duration: "1.3" },
  packets: Array.from({ length: 6 }, (_, k) => ({
    stream_index: 0,
    pts: k,
    duration: 1,
    flags: k ? "__" : "K_",
  })),
  streams: [
    {
      index: 0,
      codec_type: "video",
      codec_name: "mpeg4",
      width: 160,
      height: 120,
      sample_aspect_ratio: "1:1",
      time_base: "1/30",
      duration: "1.3",
      side_data_list: [{ rotation: -90 }],
    },
  ],
};
const log = [
  "[Parsed_showinfo_0 @ 0x1] config in time_base: 1/600, frame_rate: 60/1",
  "[Parsed_showinfo_0 @ 0x1] n:   0 pts:      0 pts_time:0 fmt:yuv420p iskey:1 type:I",
  "[h264 @ 0x2a] error while decoding MB 3 4",
  "[Parsed_showinfo_0 @ 0x1] n:   1 pts:     10 pts_time:0.0166667 fmt:yuv420p iskey:0 type:P",
];

const records = [
  ["dogs", dogRecord, dog],
  ["sessions", sessionRecord, session],
  ["clips", clipRecord, clip],
  ["settings", settingsRecord, DEFAULT_SETTINGS],
  ["result.json", resultSchema, result],
] as const;

const recordFuzzers = records.map(([name, schema, sample]): Importer => {
  return {
    name,
    weight: 13,
    fuzz: (cases, seed) =>
      check(cases, seed, damage, (changes) => {
        const given = JSON.parse(JSON.stringify(damaged(sample, changes))) as unknown;
        const parsed = schema.safeParse(given);
        if (!parsed.success) return parsed.error.issues.length > 0;
        // What is taken can be written and taken again, the same.
        const again = schema.safeParse(JSON.parse(JSON.stringify(parsed.data)));
        return again.success && JSON.stringify(again.data) === JSON.stringify(parsed.data);
      }),
  };
});

/** All importers that work without a page. */
export const importers: Importer[] = [
  ...recordFuzzers,
  {
    name: "backup: damaged texts in a sound zip",
    weight: 5,
    fuzz: (cases, seed) =>
      check(cases, seed, fc.tuple(damage, damage), async ([one, other]) => {
        const file = await packed({
          "kennel.json": JSON.stringify(damaged(kennel, one)),
          "clips/a1.json": JSON.stringify(damaged(clip, other)),
        });
        return takenOrRefused(file);
      }),
  },
  {
    name: "backup: names of its parts",
    weight: 3,
    fuzz: (cases, seed) =>
      check(cases, seed, fc.array(fc.tuple(path, fc.string()), { maxLength: 5 }), async (parts) => {
        const file = await packed({ ...Object.fromEntries(parts), "kennel.json": JSON.stringify(kennel) });
        return takenOrRefused(file);
      }),
  },
  {
    name: "backup: bytes",
    weight: 8,
    fuzz: async (cases, seed) => {
      const whole = new Uint8Array(
        await (
          await packed({ "kennel.json": JSON.stringify(kennel), "clips/a1.json": JSON.stringify(clip) })
        ).arrayBuffer(),
      );
      await check(cases, seed, byteDamage, (changes) =>
        takenOrRefused(new Blob([bytesDamaged(whole, changes)])),
      );
    },
  },
  {
    name: "pole marks",
    weight: 8,
    fuzz: (cases, seed) =>
      check(cases, seed, damage, (changes) => {
        const given = clipRecord.safeParse({ ...clip, marks: damaged(analysis.marks, changes) });
        const marks: PoleMarks | null = given.success ? given.data.marks : null;
        if (!marks) return true;
        const fit = fitGround(marks, { widthPx: 1920, heightPx: 1080 });
        const numbers = fit.map
          ? [...fit.map.imageToGround, ...fit.map.groundToImage, ...fit.map.poleXM]
          : [];
        return (fit.map !== null || fit.problems.length > 0) && numbers.every(Number.isFinite);
      }),
  },
  {
    name: "judging what was restored",
    weight: 2,
    fuzz: (cases, seed) =>
      check(cases, seed, damage, (changes) => {
        const given = clipRecord.safeParse({ ...clip, editedPasses: damaged(analysis.passes, changes) });
        if (!given.success) return true;
        const judged = judge(
          { layout, passes: given.data.editedPasses ?? [], aim: "first-poles", gait: "trot" },
          { resamples: 50 },
        );
        return judged.verdict.sentence.length > 0;
      }),
  },
  {
    name: "clip: bytes of its container",
    weight: 6,
    fuzz: (cases, seed) => {
      const files = [
        "plain-60.mp4",
        "turned-90.mov",
        "open-web.webm",
        "fragments.mp4",
        "stream.m2ts",
        "old-camera.avi",
      ].map((name) => new Uint8Array(odd(name)));
      const one = fc.tuple(fc.nat(files.length - 1), byteDamage);
      return check(cases, seed, one, async ([which, changes]) => {
        try {
          // There is no decoder outside a browser: what opens here ends with the sentence that says so.
          (await openClip(new Blob([bytesDamaged(files[which]!, changes)]), { fileName: "clip" })).close();
          return true;
        } catch (error) {
          return error instanceof ClipError && error.message.endsWith(".");
        }
      });
    },
  },
  {
    name: "clip: what ffprobe says",
    weight: 6,
    fuzz: (cases, seed) =>
      check(cases, seed, damage, async (changes) => {
        const text = new TextEncoder().encode(JSON.stringify(damaged(probed, changes)) ?? "");
        try {
          const found = await probeClip(saying(text), "clip.avi", undefined, () => {});
          const { widthPx, heightPx } = found.upright;
          return [widthPx, heightPx, ...found.packets.timesS].every((value) => Number.isFinite(value));
        } catch (error) {
          return error instanceof ClipError;
        }
      }),
  },
  {
    name: "clip: what ffmpeg logs",
    weight: 5,
    fuzz: (cases, seed) =>
      check(
        cases,
        seed,
        fc.array(fc.oneof(fc.constantFrom(...log), fc.string()), { maxLength: 12 }),
        (lines) => readShownPictures(lines).every(({ timeS }) => Number.isFinite(timeS)),
      ),
  },
  {
    name: "photos and logos",
    weight: 5,
    fuzz: (cases, seed) => {
      const text = fc.oneof(
        fc.string(),
        fc
          .tuple(
            fc.constantFrom(
              "data:image/png",
              "data:image/svg+xml",
              "data:text/html",
              "javascript:",
              "https://",
            ),
            fc.string(),
          )
          .map(([head, tail]) => `${head};base64,${tail}`),
        fc.base64String().map((base64) => `data:image/jpeg;base64,${base64}`),
      );
      return check(cases, seed, text, (photo) => {
        const taken = dogRecord.safeParse({ ...dog, photo }).success;
        return !taken || /^data:image\/(jpeg|png|webp);base64,[A-Za-z0-9+/=]+$/.test(photo);
      });
    },
  },
];

async function check<T>(
  cases: number,
  seed: number,
  given: fc.Arbitrary<T>,
  holds: (value: T) => boolean | Promise<boolean>,
): Promise<void> {
  await fc.assert(
    fc.asyncProperty(given, async (value) => (await holds(value)) && nothingPolluted()),
    { numRuns: cases, seed },
  );
}

/** No object has learned anything from what was read. */
function nothingPolluted(): boolean {
  const fresh: Record<string, unknown> = {};
  return fresh.polluted === undefined && Object.keys(Object.prototype).length === 0;
}

async function takenOrRefused(file: Blob): Promise<boolean> {
  try {
    const { dogs, films } = await openBackup(file);
    return (
      dogs.every((one) => /^[\w-]+$/.test(one.id)) && [...films.keys()].every((id) => /^[\w-]+$/.test(id))
    );
  } catch (error) {
    return error instanceof KeeperError && error.message.endsWith(".");
  }
}

const path = fc.oneof(
  fc.string(),
  fc.constantFrom(
    "../kennel.json",
    "/etc/passwd",
    "C:\\clips\\a.json",
    "films/../../x",
    "__proto__",
    "clips/__proto__.json",
  ),
  fc
    .tuple(fc.constantFrom("films/", "clips/", "../", "./films/"), fc.string())
    .map((parts) => parts.join("")),
);

async function packed(files: Record<string, string>): Promise<Blob> {
  const zip = new ZipWriter(new BlobWriter("application/zip"));
  for (const [name, text] of Object.entries(files)) {
    // Names that no zip can carry are not a case.
    await zip.add(name, new TextReader(text)).catch(() => {});
  }
  return zip.close();
}

interface Damage {
  at: number;
  how: "replace" | "drop" | "add" | "grow";
  key: string;
  value: unknown;
}

/** A few changes anywhere in a tree of plain data. */
const damage = fc.array(
  fc.record({
    at: fc.nat(1_000_000),
    how: fc.constantFrom("replace", "replace", "drop", "add", "grow"),
    key: fc.constantFrom("__proto__", "constructor", "toString", "polluted", "length", "id"),
    value: fc.oneof(
      fc.jsonValue({ maxDepth: 2 }),
      fc.constantFrom(-1, 0, 1e300, -1e-300, "", "\u0000", "<img src=x onerror=alert(1)>", null, [], {}),
      fc.constant(
        JSON.parse('{"__proto__":{"polluted":true},"constructor":{"prototype":{"polluted":true}}}'),
      ),
    ),
  }),
  { minLength: 1, maxLength: 4 },
) as fc.Arbitrary<Damage[]>;

function damaged(sample: unknown, changes: Damage[]): unknown {
  const tree = { root: structuredClone(sample) };
  for (const { at, how, key, value } of changes) {
    const places = placesIn(tree);
    const place = places[at % places.length];
    if (!place) break;
    const { holder, name } = place;
    if (how === "replace") holder[name] = structuredClone(value);
    else if (how === "drop" && holder !== tree) delete holder[name];
    else if (how === "grow" && Array.isArray(holder[name])) {
      const list = holder[name] as unknown[];
      for (let n = 0; n < 70; n++) list.push(structuredClone(list[n % Math.max(1, list.length)] ?? value));
    } else if (typeof holder[name] === "object" && holder[name] !== null && !Array.isArray(holder[name])) {
      Object.defineProperty(holder[name], key, {
        value: structuredClone(value),
        enumerable: true,
        configurable: true,
        writable: true,
      });
    }
  }
  return tree.root;
}

interface Place {
  holder: Record<string, unknown>;
  name: string;
}

function placesIn(holder: object): Place[] {
  return Object.entries(holder).flatMap(([name, value]) => [
    { holder: holder as Record<string, unknown>, name },
    ...(typeof value === "object" && value !== null ? placesIn(value) : []),
  ]);
}

interface ByteDamage {
  changes: [at: number, value: number][];
  cut: number | null;
}

const byteDamage: fc.Arbitrary<ByteDamage> = fc.record({
  changes: fc.array(fc.tuple(fc.nat(1_000_000), fc.nat(255)), { maxLength: 8 }),
  cut: fc.option(fc.nat(1_000_000), { freq: 4 }),
});

function bytesDamaged(whole: Uint8Array<ArrayBuffer>, { changes, cut }: ByteDamage): Uint8Array<ArrayBuffer> {
  const bytes = whole.slice(0, cut === null ? undefined : cut % whole.length);
  for (const [at, value] of changes) if (bytes.length > 0) bytes[at % bytes.length] = value;
  return bytes;
}

/** A program that only says this. */
function saying(text: Uint8Array<ArrayBuffer>): FfmpegProgram {
  const tools: ProgramTools = {
    ffmpeg: async () => ({ code: 0, log }),
    ffprobe: async () => ({ code: 0, log: [] }),
    write: async () => {},
    take: async () => text,
  };
  const job = <Result>(_: AbortSignal | undefined, work: (tools: ProgramTools) => Promise<Result>) =>
    work(tools);
  return { job } as unknown as FfmpegProgram;
}
