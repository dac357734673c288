import coreUrl from "@ffmpeg/core?url";
import type { FFmpeg } from "@ffmpeg/ffmpeg";
import { fetchProgram } from "./extra-program.ts";
import { refuse, stopIfAborted } from "./sentences.ts";

let address: Promise<string> | null = null;

/** Loads the program once per page or worker; an address that works without the network from then on. */
function loadProgram(onProgress: (done: number) => void): Promise<string> {
  address ??= fetchProgram(onProgress).then(
    (program) => URL.createObjectURL(program),
    (error) => {
      address = null;
      throw error;
    },
  );
  return address;
}

/** It logs every picture; one that says nothing for this long was killed under us, or hangs. */
const SILENT_MS = 120_000;

/** How the program's file system words that there is no such file. */
const NO_SUCH_FILE = /FS error/;

/** What one run of ffmpeg or ffprobe left behind. */
export interface RunResult {
  /** Exit status; 0 when all went well. */
  code: number;
  /** Everything it wrote to its log, line by line. */
  log: string[];
}

/** A file inside the program's own file system where the clip is to be found. */
export const CLIP_PATH = "/clip/clip";

/**
 * ffmpeg compiled to WebAssembly, in a worker of its own, with one clip mounted (not copied). Runs one job at a time;
 * a crashed or stopped program is loaded again for the next one.
 */
export class FfmpegProgram {
  #core: FFmpeg | null = null;
  #queue: Promise<unknown> = Promise.resolve();
  #log: string[] = [];
  #onProgress: (done: number) => void = () => {};
  #heardMs = 0;
  #closed = false;

  constructor(private readonly clip: Blob | null) {}

  /** Loads the program ahead of the first job. */
  load(signal: AbortSignal | undefined, onProgress: (done: number) => void): Promise<void> {
    return this.job(signal, async () => {}, onProgress);
  }

  /**
   * Runs a job when the ones before it are done. When the signal goes up during the job, the program is stopped and
   * the job rejects with the cancelled error.
   */
  job<Result>(
    signal: AbortSignal | undefined,
    work: (tools: ProgramTools) => Promise<Result>,
    onLoadProgress: (done: number) => void = () => {},
  ): Promise<Result> {
    const turn = this.#queue.then(async () => {
      stopIfAborted(signal);
      if (this.#closed) throw new Error("The decoding program is closed.");
      const done = this.#ready(signal, onLoadProgress).then((core) => work(this.#tools(core)));
      try {
        return await untilAborted(done, signal);
      } catch (error) {
        // After a stop it is still busy, and after a crash its memory cannot be trusted.
        this.#drop();
        throw error;
      }
    });
    this.#queue = turn.catch(() => {});
    return turn;
  }

  close(): void {
    this.#closed = true;
    this.#drop();
  }

  #drop(): void {
    this.#core?.terminate();
    this.#core = null;
  }

  async #ready(signal: AbortSignal | undefined, onLoadProgress: (done: number) => void): Promise<FFmpeg> {
    if (this.#core) return this.#core;
    try {
      const [{ FFmpeg, FFFSType }, wasm] = await Promise.all([
        import("@ffmpeg/ffmpeg"),
        loadProgram(onLoadProgress),
      ]);
      stopIfAborted(signal);
      const core = new FFmpeg();
      core.on("log", ({ message }) => {
        this.#heardMs = performance.now();
        this.#log.push(message);
      });
      core.on("progress", ({ progress }) => {
        this.#heardMs = performance.now();
        this.#onProgress(Math.max(0, Math.min(1, progress)));
      });
      this.#core = core;
      await core.load({ coreURL: new URL(coreUrl, self.location.href).href, wasmURL: wasm });
      if (this.clip) {
        await core.createDir("/clip");
        await core.mount(FFFSType.WORKERFS, { blobs: [{ name: "clip", data: this.clip }] }, "/clip");
      }
      return core;
    } catch (cause) {
      stopIfAborted(signal);
      throw Object.assign(refuse.programMissing(), { cause });
    }
  }

  /** The same promise, rejecting when the program has fallen silent. */
  #heard<Result>(work: Promise<Result>): Promise<Result> {
    this.#heardMs = performance.now();
    let listening: ReturnType<typeof setInterval> | undefined;
    const silence = new Promise<never>((_, reject) => {
      listening = setInterval(() => {
        if (performance.now() - this.#heardMs > SILENT_MS) reject(new Error("The program fell silent."));
      }, 1000);
    });
    return Promise.race([work, silence]).finally(() => clearInterval(listening));
  }

  #tools(core: FFmpeg): ProgramTools {
    const run = async (start: () => Promise<number>, onProgress: (done: number) => void) => {
      this.#log = [];
      this.#onProgress = onProgress;
      const code = await this.#heard(start());
      this.#onProgress = () => {};
      return { code, log: this.#log };
    };
    return {
      ffmpeg: (args, onProgress = () => {}) => run(() => core.exec(["-hide_banner", ...args]), onProgress),
      ffprobe: (args) =>
        run(
          () => core.ffprobe(["-hide_banner", ...args]),
          () => {},
        ),
      write: async (path, bytes) => {
        await core.writeFile(path, bytes);
      },
      take: async (path) => {
        try {
          const bytes = (await core.readFile(path)) as Uint8Array<ArrayBuffer>;
          await core.deleteFile(path);
          return bytes;
        } catch (error) {
          if (NO_SUCH_FILE.test(String(error))) return null;
          throw error;
        }
      },
    };
  }
}

/** The same promise, rejecting with the cancelled error as soon as the signal goes up. */
function untilAborted<Result>(work: Promise<Result>, signal: AbortSignal | undefined): Promise<Result> {
  if (!signal) return work;
  return new Promise((resolve, reject) => {
    const stop = () => reject(refuse.cancelled());
    signal.addEventListener("abort", stop, { once: true });
    work.then(resolve, reject).finally(() => signal.removeEventListener("abort", stop));
  });
}

/** What a job may do with the program. */
export interface ProgramTools {
  ffmpeg(args: string[], onProgress?: (done: number) => void): Promise<RunResult>;
  /** What is asked for is remembered and asked again by the next call: call it once for each loading. */
  ffprobe(args: string[]): Promise<RunResult>;
  /** Hands bytes over; the array is empty afterwards. */
  write(path: string, bytes: Uint8Array): Promise<void>;
  /** Reads a file and deletes it; null when there is none. */
  take(path: string): Promise<Uint8Array<ArrayBuffer> | null>;
}
