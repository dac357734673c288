import { BlobSource } from "mediabunny";

/** The same bytes asked for so often in a row are asked for by a loop that gets nowhere; readers ask a few times. */
const MOST_IN_A_ROW = 1000;

/** What BlobSource answers to reading bytes: null beyond the end of the file. */
type Answer = object | Promise<object | null> | null;
interface Readable {
  _read(start: number, end: number, ...prefetch: number[]): Answer;
}
const { _read: read } = BlobSource.prototype as unknown as Readable;

/**
 * A file for the demuxer, which ends where the demuxer goes round in circles: in search of the next element of a
 * damaged Matroska or WebM file, mediabunny 1.61 asks for the last 8 bytes for ever, and the page stands still. What
 * lies before the damage is read then. `_read` is not part of mediabunny's promises: a test opens such a file.
 */
export class BoundedSource extends BlobSource {
  #start = -1;
  #end = -1;
  #inARow = 0;

  _read(start: number, end: number, ...prefetch: number[]): Answer {
    this.#inARow = start === this.#start && end === this.#end ? this.#inARow + 1 : 0;
    this.#start = start;
    this.#end = end;
    return this.#inARow > MOST_IN_A_ROW ? null : read.call(this, start, end, ...prefetch);
  }
}
