/** A picture reported by ffmpeg's showinfo filter. */
export interface ShownPicture {
  /** Presentation time on the container's clock, seconds, exact to the tick. */
  timeS: number;
  /** The decoder complained of damage after the last key frame before this picture. */
  doubtful: boolean;
}

const FROM_FILTER = /^\[Parsed_showinfo_(\d+) @/;
const TIME_BASE = /config in time_base: (\d+)\/(\d+)/;
const PICTURE = /\bn: *\d+ pts: *(-?\d+) .*\biskey:(\d)/;
const COMPLAINT =
  /^\[\w+ @ 0x[0-9a-f]+\].*(error|invalid|conceal|corrupt|damaged|missing|could not find ref)/i;

/**
 * Reads the pictures from a log of a run with showinfo first in its chain of filters and, where the chain drops
 * pictures, last as well: the first sees what was decoded, the last what was written. Times are taken from the ticks
 * (`pts`), because the seconds that the filter prints are rounded to six digits.
 *
 * @returns What was written, in order.
 */
export function readShownPictures(log: readonly string[]): ShownPicture[] {
  const written = new Map<number, number[]>();
  const doubtful = new Set<number>();
  let one = 1;
  let per = 1;
  let damaged = false;
  let decoding: number | null = null;
  for (const line of log) {
    const filter = FROM_FILTER.exec(line);
    if (!filter) {
      damaged ||= COMPLAINT.test(line);
      continue;
    }
    const place = Number(filter[1]);
    const base = TIME_BASE.exec(line);
    if (base) {
      one = Number(base[1]);
      per = Number(base[2]);
      decoding = Math.min(decoding ?? place, place);
      written.set(place, []);
    }
    const picture = PICTURE.exec(line);
    if (!picture) continue;
    const ticks = Number(picture[1]);
    written.get(place)?.push(ticks);
    if (place !== decoding) continue;
    if (picture[2] === "1") damaged = false;
    if (damaged) doubtful.add(ticks);
  }
  const last = written.get(Math.max(...written.keys())) ?? [];
  return last.map((ticks) => ({ timeS: (ticks * one) / per, doubtful: doubtful.has(ticks) }));
}
