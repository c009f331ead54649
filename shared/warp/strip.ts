import type { Samples } from '../math/units.ts';

/**
 * A stretch of two long channels (the real and the imaginary part of one complex signal) that slides
 * along them: samples `base` to `end` are in memory. Positions count from the signal's start, in samples of its rate.
 */
export class Strip {
  re: Float32Array;
  im: Float32Array;
  /** Position of what stands at index 0 of the arrays. */
  base: Samples = 0;
  end: Samples = 0;
  private kept: Samples = 0;

  /**
   * @param length of the whole signal; nothing is read or written beyond it
   * @param room samples that will be in memory at a time, more or less
   */
  constructor(
    readonly length: Samples,
    room: Samples,
  ) {
    const size = Math.min(length, room);
    this.re = new Float32Array(size);
    this.im = new Float32Array(size);
  }

  /** Sees to it that `first` to `last` (inside the signal) can be read. */
  reach(_first: Samples, last: Samples): void {
    this.room(last);
  }

  /** Lets everything before a position go once room is needed. */
  forget(before: Samples): void {
    this.kept = Math.min(this.end, Math.max(this.kept, before));
  }

  /** Begins anew at a position, empty. */
  restart(at: Samples): void {
    this.base = at;
    this.end = at;
    this.kept = at;
  }

  /** Makes room up to a position; what was not written yet is silent. */
  room(until: Samples): void {
    const last = Math.min(until, this.length);
    if (last <= this.end) return;
    if (last - this.base > this.re.length) this.slide(last);
    this.re.fill(0, this.end - this.base, last - this.base);
    this.im.fill(0, this.end - this.base, last - this.base);
    this.end = last;
  }

  private slide(last: Samples): void {
    const { re, im, kept, base, end } = this;
    const need = last - kept;
    if (need > re.length) {
      const size = Math.min(this.length - kept, Math.ceil(need * 1.5));
      this.re = new Float32Array(size);
      this.im = new Float32Array(size);
      this.re.set(re.subarray(kept - base, end - base));
      this.im.set(im.subarray(kept - base, end - base));
    } else {
      re.copyWithin(0, kept - base, end - base);
      im.copyWithin(0, kept - base, end - base);
    }
    this.base = kept;
  }
}
