/** Repeatable chance: mulberry32, whole state in one number (public domain, Tommy Ettinger). */
export class Chance {
  #state: number;

  constructor(seed: number) {
    this.#state = seed >>> 0;
  }

  /** 0 up to 1, 1 left out. */
  share(): number {
    this.#state = (this.#state + 0x6d2b79f5) >>> 0;
    let t = this.#state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }

  /** A whole number from 0 up to `end`, left out. */
  below(end: number): number {
    return Math.floor(this.share() * end);
  }

  of<T>(list: readonly T[]): T {
    const one = list[this.below(list.length)];
    if (one === undefined) throw new RangeError("Nothing to choose from.");
    return one;
  }
}
