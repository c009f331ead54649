import { type LentDoubles, Place, takeDoubles } from '../../math/kernel-places.ts';
import type { Samples } from '../../math/units.ts';
import { type Framer, Spectra, type Spectrum } from '../bands/spectrum.ts';
import type { Strip } from '../bands/strip.ts';

/**
 * Sums of frames of some pairs of channels and of what windows each place was given; the loops of `OverlapAdd`. Where
 * there is WebAssembly SIMD all of it lies where kernels work, which give the same to the last bit.
 */
export class FrameSums {
  private readonly sums: Spectra;
  private readonly made: LentDoubles;
  /** Of frames with nothing done to them: they are copied in the end. */
  private readonly copied: LentDoubles;
  /** Two stretches of floats on their way from or to a strip. */
  private readonly floats: Place | null;

  /**
   * @param size how many samples there is room for
   * @param plain for the plain form, whatever the machine has
   */
  constructor(
    pairs: number,
    private readonly size: Samples,
    plain = false,
  ) {
    this.sums = new Spectra(pairs, size, plain);
    this.made = takeDoubles(size, plain);
    this.copied = takeDoubles(size, plain);
    this.floats = plain ? null : Place.take(size);
  }

  /** Leaves its memory to others. */
  leave(): void {
    for (const part of [this.sums, this.made, this.copied, this.floats]) part?.leave();
  }

  clear(from: Samples, until: Samples): void {
    this.made.values.fill(0, from, until);
    this.copied.values.fill(0, from, until);
    for (const { re, im } of this.sums.pairs) {
      re.fill(0, from, until);
      im.fill(0, from, until);
    }
  }

  /** Moves what stands from `from` to `until` to the start. */
  shift(from: Samples, until: Samples): void {
    this.made.values.copyWithin(0, from, until);
    this.copied.values.copyWithin(0, from, until);
    for (const { re, im } of this.sums.pairs) {
      re.copyWithin(0, from, until);
      im.copyWithin(0, from, until);
    }
  }

  /** The spectrum of a frame of one pair. */
  add(framer: Framer, frame: Spectrum, pair: number, at: Samples): void {
    framer.add(frame, this.sums.pairs[pair], this.size, at);
  }

  /** The windows of a frame of which the first `limit` samples count: one that is added or one that will be copied. */
  weigh(framer: Framer, how: 'made' | 'copied', at: Samples, limit: number): void {
    framer.weigh(this[how], this.size, at, limit);
  }

  /** Whether the windows of copied frames reach some weight everywhere between two places. */
  copiesReach(low: Samples, high: Samples, least: number): boolean {
    const { copied, floats } = this;
    if (floats && copied.at !== undefined)
      return floats.kernels.kernel.allReach(copied.at + low * 8, high - low, least) !== 0;
    const { values } = copied;
    for (let i = low; i < high; i++) if (values[i] < least) return false;
    return true;
  }

  /**
   * What copied frames come to, added to the sums between two places: samples of each strip from `first` on,
   * weighed by these frames' windows.
   */
  addCopies(strips: readonly Strip[], first: Samples, low: Samples, high: Samples): void {
    const { made, copied, floats } = this;
    strips.forEach((strip, p) => {
      const from = low + Math.max(0, -first);
      const end = Math.min(high, low + strip.length - first);
      if (end <= from) return;
      const source = first + from - low;
      strip.reach(source, first + end - low);
      this.addCopy(strip, source - strip.base, p, from, end);
    });
    if (floats && made.at !== undefined && copied.at !== undefined) {
      floats.kernels.kernel.added(copied.at + low * 8, high - low, made.at + low * 8);
      return;
    }
    const { values: weight } = made;
    const { values: more } = copied;
    for (let i = low; i < high; i++) weight[i] += more[i];
  }

  private addCopy(strip: Strip, at: number, pair: number, from: Samples, end: Samples): void {
    const { sums, copied, floats, size } = this;
    const count = end - from;
    if (floats && copied.at !== undefined && sums.at !== undefined) {
      const { kernel, room } = floats.kernels;
      const to = sums.at + (2 * size * pair + from) * 8;
      for (let part = 0; part < 2; part++) {
        const samples = part === 0 ? strip.re : strip.im;
        room.floats(floats.at, count).set(samples.subarray(at, at + count));
        kernel.floatsAdded(floats.at, copied.at + from * 8, count, to + part * size * 8);
      }
      return;
    }
    const { re: yr, im: yi } = sums.pairs[pair];
    const { re: xr, im: xi } = strip;
    const { values: weight } = copied;
    for (let i = from, s = at; i < end; i++, s++) {
      const w = weight[i];
      yr[i] += xr[s] * w;
      yi[i] += xi[s] * w;
    }
  }

  /** Turns what windows were given into what sums are to be multiplied by; where there is less than `floor` nothing is blown up. */
  invert(low: Samples, high: Samples, floor: number): void {
    const { made, floats } = this;
    if (floats && made.at !== undefined) {
      floats.kernels.kernel.inverted(made.at + low * 8, high - low, floor);
      return;
    }
    const { values } = made;
    for (let i = low; i < high; i++) values[i] = 1 / Math.max(values[i], floor);
  }

  /**
   * Writes the sums between two places to a strip, the first of them to its index `at`.
   *
   * @param fading so many are faded in over what stands there, from `late - fade` samples on to `late`
   * @param late samples from `low` on back to where the fade ends
   */
  write(
    strip: Strip,
    at: number,
    pair: number,
    low: Samples,
    high: Samples,
    fading: Samples,
    late: Samples,
    fade: Samples,
  ): void {
    const { sums, made, floats, size } = this;
    const count = high - low;
    if (floats && made.at !== undefined && sums.at !== undefined) {
      const { kernel, room } = floats.kernels;
      const weight = made.at + low * 8;
      const rest = fading * 8;
      for (let part = 0; part < 2; part++) {
        const samples = part === 0 ? strip.re : strip.im;
        const sum = sums.at + (2 * size * pair + low + part * size) * 8;
        const out = room.floats(floats.at, count);
        if (fading > 0) {
          out.set(samples.subarray(at, at + fading));
          kernel.fadedOver(sum, weight, fading, late, fade, floats.at);
        }
        kernel.floatsOfProducts(sum + rest, weight + rest, count - fading, floats.at + fading * 4);
        samples.set(out, at);
      }
      return;
    }
    const { re, im } = sums.pairs[pair];
    const { re: yr, im: yi } = strip;
    const { values: weight } = made;
    for (let i = low, n = 0, to = at; i < high; i++, n++, to++) {
      if (n >= fading) {
        yr[to] = re[i] * weight[i];
        yi[to] = im[i] * weight[i];
        continue;
      }
      const x = (n + late + fade) / fade;
      if (x <= 0) continue;
      const share = 0.5 - 0.5 * Math.cos(Math.PI * x);
      yr[to] += (re[i] * weight[i] - yr[to]) * share;
      yi[to] += (im[i] * weight[i] - yi[to]) * share;
    }
  }
}
