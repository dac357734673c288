/** A picture reported by ffmpeg's showinfo filter. */
export interface ShownPicture {
  /** Presentation time on the container's clock, seconds, exact to the tick. */
  timeS: number;
  /** The decoder complained between the picture before and this one. */
  doubtful: boolean;
}

const TIME_BASE = /config in time_base: (\d+)\/(\d+)/;
const PICTURE = /\bn: *\d+ pts: *(-?\d+) /;
const COMPLAINT =
  /error while decoding|conceal|corrupt|could not find ref|missing (picture|reference)|invalid data/i;

/**
 * Reads the pictures from a log with `-vf showinfo`. Times are taken from the ticks (`pts`), because the seconds that
 * the filter prints are rounded to six digits.
 */
export function readShownTimes(log: readonly string[]): ShownPicture[] {
  const pictures: ShownPicture[] = [];
  let one = 1;
  let per = 1;
  let doubtful = false;
  for (const line of log) {
    const base = TIME_BASE.exec(line);
    if (base) {
      one = Number(base[1]);
      per = Number(base[2]);
    }
    const picture = PICTURE.exec(line);
    if (picture) {
      pictures.push({ timeS: (Number(picture[1]) * one) / per, doubtful });
      doubtful = false;
    } else if (COMPLAINT.test(line)) {
      doubtful = true;
    }
  }
  return pictures;
}
