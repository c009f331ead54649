import type { Samples } from '../../math/units.ts';
import type { Workspace } from './workspace.ts';

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
   * @param workspace where its memory comes from
   */
  constructor(
    readonly length: Samples,
    room: Samples,
    private readonly workspace: Workspace,
  ) {
    const size = Math.min(length, room);
    this.re = workspace.floats(size);
    this.im = workspace.floats(size);
  }

  /** Leaves its memory to others; it is of no use from then on. */
  close(): void {
    this.workspace.leave(this.re, this.im);
    this.re = new Float32Array(0);
    this.im = new Float32Array(0);
  }

  /** Sees to it that `first` to `last` (inside the signal) can be read. */
  reach(_first: Samples, last: Samples): void {
    this.room(last);
  }

  /**
   * Where kernels find `first` to `last`, which have been reached: addresses of floats. Undefined where they would have
   * to be brought for this one time, as nothing that may still change is kept there.
   */
  placed(
    _first: Samples,
    _last: Samples,
  ): { readonly re: number; readonly im: number } | undefined {
    return undefined;
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
    if (last - this.base > Math.min(this.re.length, this.im.length)) this.slide(last);
    this.re.fill(0, this.end - this.base, last - this.base);
    this.im.fill(0, this.end - this.base, last - this.base);
    this.end = last;
  }

  private slide(last: Samples): void {
    const { re, im, kept, base, end } = this;
    const need = last - kept;
    if (need > Math.min(re.length, im.length)) {
      const size = Math.min(this.length - kept, Math.ceil(need * 1.5));
      this.re = this.workspace.floats(size);
      this.im = this.workspace.floats(size);
      this.workspace.leave(re, im);
      this.re.set(re.subarray(kept - base, end - base));
      this.im.set(im.subarray(kept - base, end - base));
    } else {
      re.copyWithin(0, kept - base, end - base);
      im.copyWithin(0, kept - base, end - base);
    }
    this.base = kept;
  }
}
