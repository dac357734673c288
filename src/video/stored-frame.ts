import type { StoredPicture } from "./channels.ts";
import { sampleGrey, sampleRgb, type Upright } from "./resample.ts";
import type { ClipFrame, Region } from "./types.ts";

/** A frame whose pixels are in our memory, sampled without turning the whole picture. */
export class StoredFrame implements ClipFrame {
  #picture: StoredPicture | null;

  /** @param release Called once with the bytes behind the picture, for use by a later frame. */
  constructor(
    readonly index: number,
    readonly timeS: number,
    picture: StoredPicture,
    private readonly upright: Upright,
    private readonly release: (bytes: Uint8Array) => void = () => {},
  ) {
    this.#picture = picture;
  }

  /** The picture as stored. Throws when the frame is closed. */
  get picture(): StoredPicture {
    if (!this.#picture) throw new Error(`Frame ${this.index} is closed and has no picture any more.`);
    return this.#picture;
  }

  grey(region: Region, width: number, height: number, out?: Uint8Array): Uint8Array {
    return sampleGrey(this.picture, this.upright, region, width, height, out);
  }

  rgb(region: Region, width: number, height: number, out?: Uint8Array): Uint8Array {
    return sampleRgb(this.picture, this.upright, region, width, height, out);
  }

  close(): void {
    if (!this.#picture) return;
    const { bytes } = this.#picture.channels[0];
    this.#picture = null;
    this.release(bytes);
  }
}
