// `npm run demo`: the main job without a screen, in a real Chromium: prints the verdict and writes the report.
import { existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { basename, dirname, extname, join, resolve } from "node:path";
import { buildIfNeeded, installIfNeeded, root } from "./prepare.mjs";

const USAGE = `npm run demo -- [clip …] [--poles FILE] [--spacing-cm 45] [--gait walk|trot] [--aim NAME] [--out DIR]

  clip          video files; without any, the demo clip
  --poles       JSON: {"timeS":0.5,"poles":[{"near":[x,y],"far":[x,y]},…],"gapsM":[0.45,…],
                "poleLengthM":0.9,"poleHeightM":0.06}; without it, NAME.json beside each clip is read
  --spacing-cm  overrides every gap
  --gait, --aim what the exercise is (trot or walk; first-poles unless said otherwise)
  --out         folder for report.html, landings.csv, result.json and frames (default: out)`;

try {
  const wish = readArguments(process.argv.slice(2));
  if (!wish) {
    console.log(USAGE);
    process.exit(0);
  }
  installIfNeeded();
  buildIfNeeded();
  process.exitCode = await run(wish);
} catch (error) {
  console.error(error instanceof Error ? error.message : error);
  process.exit(1);
}

function readArguments(args) {
  const wish = { clips: [], poles: null, spacingCm: null, gait: null, aim: "first-poles", out: "out" };
  for (let i = 0; i < args.length; i++) {
    const value = () => {
      const next = args[++i];
      if (next === undefined) throw new Error(`${args[i - 1]} wants a value.\n\n${USAGE}`);
      return next;
    };
    if (args[i] === "--help" || args[i] === "-h") return null;
    else if (args[i] === "--poles") wish.poles = value();
    else if (args[i] === "--out") wish.out = value();
    else if (args[i] === "--gait") wish.gait = value();
    else if (args[i] === "--aim") wish.aim = value();
    else if (args[i] === "--spacing-cm") {
      wish.spacingCm = Number(value());
      if (!(wish.spacingCm >= 10 && wish.spacingCm <= 300)) {
        throw new Error("--spacing-cm wants the distance between poles in centimetres, 10 to 300.");
      }
    } else if (args[i].startsWith("--")) throw new Error(`${args[i]} is not known here.\n\n${USAGE}`);
    else wish.clips.push(args[i]);
  }
  if (wish.gait && !["walk", "trot"].includes(wish.gait)) throw new Error("--gait is walk or trot.");
  if (wish.clips.length === 0) wish.clips.push(join(root, "fixtures/clips/demo-fits.mp4"));
  return wish;
}

/** Reads the poles for one clip: the file given, else the JSON that lies beside the clip. */
function marksFor(clip, wish) {
  const path = wish.poles ?? join(dirname(clip), `${basename(clip, extname(clip))}.json`);
  if (!existsSync(path)) {
    throw new Error(
      `${basename(clip)}: where are the poles? Give --poles FILE, or put ${basename(path)} beside the clip.`,
    );
  }
  let told;
  try {
    told = JSON.parse(readFileSync(path, "utf8"));
  } catch {
    throw new Error(`${path} is not readable as JSON.`);
  }
  const marks = told.marks ?? told;
  if (!Array.isArray(marks.poles) || marks.poles.length < 2) {
    throw new Error(`${path} marks fewer than two poles. It wants "poles": [{"near":[x,y],"far":[x,y]}, …].`);
  }
  const point = (p) => (Array.isArray(p) ? { x: p[0], y: p[1] } : (p ?? undefined));
  const gapsM =
    wish.spacingCm === null ? marks.gapsM : Array(marks.poles.length - 1).fill(wish.spacingCm / 100);
  if (!Array.isArray(gapsM)) {
    throw new Error(
      `${path} says nothing of the distances between the poles. Add "gapsM", or give --spacing-cm.`,
    );
  }
  return {
    marks: {
      timeS: marks.timeS ?? 0,
      poles: marks.poles.map((p) => ({ near: point(p.near), far: point(p.far) })),
      gapsM,
      poleLengthM: marks.poleLengthM,
      poleHeightM: marks.poleHeightM,
    },
    gait: wish.gait ?? told.gait ?? "trot",
  };
}

async function run(wish) {
  const [{ chromium }, { chromiumArgs, ensureChromium }, { serveSite }] = await Promise.all([
    import("playwright-core"),
    import("./chromium.mjs"),
    import("./site.mjs"),
  ]);
  const files = new Map();
  let folder = resolve(wish.out);
  const site = await serveSite({
    files,
    take: (name, body) => {
      const path = resolve(folder, name);
      if (!path.startsWith(folder)) return;
      mkdirSync(dirname(path), { recursive: true });
      writeFileSync(path, body);
    },
  });
  const browser = await chromium.launch({ executablePath: ensureChromium(), args: chromiumArgs });
  const rows = [];
  try {
    for (const given of wish.clips) {
      const clip = resolve(given);
      const name = basename(clip);
      const several = wish.clips.length > 1;
      if (several) folder = resolve(wish.out, basename(clip, extname(clip)));
      mkdirSync(folder, { recursive: true });
      const row = { clip: name, verdict: "—", sentence: "" };
      rows.push(row);
      try {
        if (!existsSync(clip) || !statSync(clip).isFile()) throw new Error(`There is no file ${given}.`);
        const { marks, gait } = marksFor(clip, wish);
        files.set("clip", clip);
        const page = await browser.newPage();
        page.on("console", (message) => {
          if (process.env.PAWGAP_VERBOSE) console.error(message.text());
        });
        await page.goto(`${site.url}headless.html`);
        await page.waitForFunction(() => "pawgap" in window);
        await page.exposeFunction("pawgapProgress", showProgress);
        const told = await page.evaluate((job) => window.pawgap.check(job), {
          clipUrl: "given/clip",
          fileName: name,
          marks,
          gait,
          aim: wish.aim,
        });
        await page.close();
        clearProgress();
        row.verdict = told.kind;
        row.sentence = told.sentence;
        console.log(`\n${name}\n  ${told.sentence}\n  ${told.evidence}\n  ${told.nextTime}`);
        for (const note of told.notes) console.log(`  · ${note}`);
        console.log(
          `  ${told.hindLandings} hind landings in ${told.passes} ${told.passes === 1 ? "pass" : "passes"}; ` +
            `${told.secondsTaken.toFixed(1)} s for ${told.durationS.toFixed(1)} s of video. Written to ${folder}`,
        );
      } catch (error) {
        clearProgress();
        row.sentence = sentenceOf(error);
        row.failed = true;
        console.log(`\n${name}\n  ${row.sentence}`);
      }
    }
  } finally {
    await browser.close();
    await site.close();
  }
  if (rows.length > 1) {
    const wide = Math.max(...rows.map((r) => r.clip.length));
    const verdictWide = Math.max(...rows.map((r) => r.verdict.length));
    console.log("");
    for (const r of rows)
      console.log(`${r.clip.padEnd(wide)}  ${r.verdict.padEnd(verdictWide)}  ${r.sentence}`);
  }
  console.log(
    "\nNot a diagnosis: a veterinarian examines first. Stop or make it easier when the dog knocks, drags, hops or tires.",
  );
  return rows.some((r) => r.failed) ? 1 : 0;
}

/** Playwright wraps what the page throws; the sentence is between the error's name and its stack. */
function sentenceOf(error) {
  const text = error instanceof Error ? error.message : String(error);
  return text
    .replace(/^page\.evaluate: /, "")
    .replace(/^(\w*Error: )+/, "")
    .split("\n    at ")[0]
    .trim();
}

function showProgress(stage, done) {
  if (process.stdout.isTTY) process.stdout.write(`\r  ${stage} ${Math.round(done * 100)} % `);
}

function clearProgress() {
  if (process.stdout.isTTY) process.stdout.write("\r\x1b[K");
}
