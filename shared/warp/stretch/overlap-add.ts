import type { Samples } from '../../math/units.ts';
import type { BandSignals } from '../bands/bands.ts';
import type { Framer, Spectrum } from '../bands/spectrum.ts';
import { FrameSums } from './frame-sums.ts';

/** So many samples are finished at a time, more or less. */
const batch = 512;

/**
 * Where the frames of one piece add up: sound, and what windows each place was given. What no later frame
 * reaches is written to the outputs, faded in over what stands there before the piece's attack; so memory
 * holds a few frames, however long the piece. Positions are band samples (without the strips' padding).
 */
export class OverlapAdd {
  private readonly sums: FrameSums;
  private readonly size: number;
  /** Position that stands at index 0 of the buffers, and up to which index anything is written there. */
  private base: Samples = 0;
  private used = 0;
  private end: Samples = 0;
  private begin: Samples = 0;
  private shift: Samples = 0;
  private framer: Framer | undefined;
  /** Up to where copied frames reach. */
  private copiedUntil: Samples = 0;
  /** Up to where frames reach that were taken apart. */
  private madeUntil: Samples = 0;
  private done: Samples = 0;

  /**
   * @param fade samples of the crossfade that ends at a piece's `begin`
   * @param longest frame that will come
   */
  constructor(
    private readonly signals: BandSignals,
    private readonly padding: Samples,
    private readonly fade: number,
    longest: Samples,
  ) {
    this.size = 2 * longest + 4 * batch;
    this.sums = new FrameSums(signals.sources.length, this.size);
    this.sums.clear(0, this.size);
  }

  /** Leaves its memory to others. */
  leave(): void {
    this.sums.leave();
  }

  /** Everything before this position of the piece is written. */
  get finished(): Samples {
    return this.done;
  }

  /** Begins a piece that is written from `from` to `to` and fully there from `begin` on; copies come from `shift` later. */
  open(framer: Framer, shift: Samples, from: Samples, to: Samples, begin: number): void {
    this.sums.clear(0, this.used);
    this.used = 0;
    this.framer = framer;
    this.shift = shift;
    this.base = from;
    this.done = from;
    this.copiedUntil = from;
    this.madeUntil = from;
    this.end = to;
    this.begin = begin;
  }

  /** A frame at `at` with nothing done to it, of which the first `limit` samples count. */
  copy(at: Samples, limit: number): void {
    const { framer } = this;
    if (!framer) return;
    this.room(framer, at);
    this.sums.weigh(framer, 'copied', at - this.base, limit);
    this.copiedUntil = at + framer.size;
  }

  /** The windows of a frame at `at` that is to be added, of which the first `limit` samples count. */
  weigh(at: Samples, limit: number): void {
    const { framer } = this;
    if (!framer) return;
    this.room(framer, at);
    this.sums.weigh(framer, 'made', at - this.base, limit);
    this.madeUntil = at + framer.size;
  }

  /** The spectrum of a frame of one output. */
  add(frame: Spectrum, output: number, at: Samples): void {
    if (this.framer) this.sums.add(this.framer, frame, output, at - this.base);
  }

  /** Ends the piece. */
  close(): void {
    this.flush(this.end);
    this.done = this.end;
  }

  /** Room for a frame at `at`; what lies before it is finished now. */
  private room(framer: Framer, at: Samples): void {
    if (at - this.done >= batch) this.flush(Math.min(at, this.end));
    const last = at + framer.size - this.base;
    if (last > this.size) {
      const from = this.done - this.base;
      const kept = this.used - from;
      this.sums.shift(from, this.used);
      this.sums.clear(kept, this.used);
      this.used = kept;
      this.base = this.done;
    }
    this.used = Math.max(this.used, at + framer.size - this.base);
  }

  private flush(until: Samples): void {
    const { signals, padding, base, begin, fade, sums, framer } = this;
    if (!framer) return;
    // Where next to no window reaches (before a hard cut), nothing is blown up.
    const floor = 0.05 * framer.size;
    const { length } = signals.outputs[0];
    const first = Math.max(this.done, -padding);
    const last = Math.min(until, length - padding);
    this.done = until;
    if (last <= first) return;
    const low = first - base;
    const high = last - base;
    const inside =
      first + this.shift + padding >= 0 && last + this.shift + padding <= signals.sources[0].length;
    if (first >= begin && first >= this.madeUntil && inside && sums.copiesReach(low, high, floor)) {
      this.move(first, last);
      return;
    }
    if (first < this.copiedUntil)
      sums.addCopies(signals.sources, first + this.shift + padding, low, high);
    sums.invert(low, high, floor);
    const fading = Math.min(last - first, Math.max(0, Math.ceil(begin - first)));
    signals.outputs.forEach((strip, p) => {
      strip.room(last + padding);
      sums.write(strip, first + padding - strip.base, p, low, high, fading, first - begin, fade);
    });
  }

  /** Where nothing but copies sounds: the source itself, moved. */
  private move(first: Samples, last: Samples): void {
    const { signals, padding, shift } = this;
    signals.sources.forEach((source, p) => {
      const output = signals.outputs[p];
      output.room(last + padding);
      source.reach(first + shift + padding, last + shift + padding);
      const from = first + shift + padding - source.base;
      const to = first + padding - output.base;
      output.re.set(source.re.subarray(from, from + last - first), to);
      output.im.set(source.im.subarray(from, from + last - first), to);
    });
  }
}
