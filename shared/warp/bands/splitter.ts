import { ComplexFft } from '../../math/complex-fft.ts';
import type { Samples } from '../../math/units.ts';
import { type Band, falls } from './bands.ts';
import { KernelSplit } from './kernel-split.ts';
import type { Reader } from './reader.ts';
import type { Strip } from './strip.ts';

/**
 * Splits a pair of channels into bands and puts bands together again, block by block with overlap-save.
 * Blocks lie at fixed places, so that every sample comes out the same whoever asks for it and when. The
 * three masks add up to 1 in each block, so untouched bands give back the signal to rounding, whatever
 * the filters' tails do.
 */
export class BandSplitter {
  /** Full-rate samples that every band keeps before the signal's start and after its end. */
  readonly padding: Samples;
  /** Full-rate samples from block to block; block `n` yields `hop` of them from `n * hop` on. */
  readonly hop: Samples;
  /** Full-rate samples that a block looks at before and after those that it yields. */
  readonly guard: Samples;
  readonly block: Samples;
  private readonly fft: ComplexFft;
  private readonly ffts: ComplexFft[];
  readonly masks: readonly Float64Array[];
  /** Of all bands but the top one, which is added as it is. */
  readonly lifts: readonly Float64Array[];
  private readonly kernel: KernelSplit | null;
  private readonly re: Float64Array;
  private readonly im: Float64Array;
  private readonly samples: readonly [Float32Array, Float32Array];
  private readonly scratch: { re: Float64Array; im: Float64Array }[];

  /** @param plain for the plain form, whatever the machine has; the other gives the same to the last bit */
  constructor(
    readonly bands: readonly Band[],
    plain = false,
  ) {
    this.block = bands[0].decimation * 2048;
    this.padding = this.block / 8;
    this.guard = this.block / 8;
    this.hop = this.block - 2 * this.guard;
    this.fft = new ComplexFft(this.block, plain);
    this.ffts = bands.map((band) => new ComplexFft(this.block / band.decimation, plain));
    const points = bands.map((band) => this.block / band.decimation / 2 + 1);
    // What lies below the edge of a band, as far as the next one reaches.
    const below = bands.map(({ edge, slope }, i) =>
      falls(points[i + 1] ?? points[i], (k) => (k / this.block - edge) / slope),
    );
    this.masks = bands.map((_, i) => {
      const mask = below[i].slice(0, points[i]);
      for (let k = 0; k < mask.length; k++)
        mask[k] = (mask[k] - (i > 0 ? below[i - 1][k] : 0)) / this.block;
      return mask;
    });
    // Upwards: everything the band may hold passes, and the images of the lower rate do not.
    this.lifts = bands.slice(0, -1).map(({ decimation, edge, slope }, i) => {
      const half = 0.5 / decimation;
      const top = edge + slope;
      const lift = falls(points[i], (k) => (2 * (k / this.block - top)) / (half - top) - 1);
      for (let k = 0; k < lift.length; k++) lift[k] = (lift[k] * decimation) / this.block;
      return lift;
    });
    this.kernel = plain ? null : KernelSplit.of(JSON.stringify(bands), this);
    const scratch = (size: number) => new Float64Array(this.kernel ? 0 : size);
    this.re = scratch(this.block);
    this.im = scratch(this.block);
    const samples = () => new Float32Array(this.kernel ? 0 : this.block);
    this.samples = [samples(), samples()];
    this.scratch = bands.map((band) => ({
      re: scratch(this.block / band.decimation),
      im: scratch(this.block / band.decimation),
    }));
  }

  /** How many samples a band of a signal has. Sample `m` stands at full-rate sample `m * decimation - padding`. */
  lengthOf(band: number, length: Samples): Samples {
    return Math.ceil((length + 2 * this.padding) / this.bands[band].decimation);
  }

  /** Reads block `n` of channel `channel` and the one after it, for `take`. */
  load(reader: Reader, channel: number, n: number): void {
    const { kernel, re, im } = this;
    const [left, right] = kernel?.block() ?? this.samples;
    const first = n * this.hop - this.guard - this.padding;
    reader.read(channel, first, left);
    reader.read(channel + 1, first, right);
    if (kernel) {
      kernel.load();
      return;
    }
    re.set(left);
    im.set(right);
    this.fft.transform(re, im);
  }

  /** Appends what a band has of the block just loaded to a strip that ends where that begins. */
  take(b: number, to: Strip): void {
    const { decimation } = this.bands[b];
    const { end } = to;
    to.room(end + this.hop / decimation);
    const at = this.guard / decimation;
    const count = to.end - end;
    if (this.kernel) {
      const [left, right] = this.kernel.lower(b, at, count);
      to.re.set(left, end - to.base);
      to.im.set(right, end - to.base);
      return;
    }
    const { block, re, im } = this;
    const size = block / decimation;
    const { re: zr, im: zi } = this.scratch[b];
    const mask = this.masks[b];
    const half = size / 2;
    for (let k = 0; k < half; k++) {
      zr[k] = re[k] * mask[k];
      zi[k] = im[k] * mask[k];
    }
    zr[half] = half * 2 === block ? re[half] * mask[half] : 0;
    zi[half] = half * 2 === block ? im[half] * mask[half] : 0;
    for (let k = 1; k < half; k++) {
      zr[size - k] = re[block - k] * mask[k];
      zi[size - k] = im[block - k] * mask[k];
    }
    this.ffts[b].transform(zi, zr);
    for (let i = end - to.base, j = at, last = i + count; i < last; i++, j++) {
      to.re[i] = zr[j];
      to.im[i] = zi[j];
    }
  }

  /**
   * Block `n` of the bands put together, `left.length` samples (`hop` at most) into `left` and `right`.
   * @param strips of all bands, which have the block with its guard in memory
   */
  join(strips: readonly Strip[], n: number, left: Float32Array, right?: Float32Array): void {
    const { block, guard, hop, kernel, re, im } = this;
    const top = strips[strips.length - 1];
    const start = n * hop + this.padding;
    if (kernel) kernel.begin();
    else for (const part of [re, im]) part.fill(0);
    for (let b = 0; b < strips.length - 1; b++) {
      const { decimation } = this.bands[b];
      const size = block / decimation;
      const first = (start - guard) / decimation;
      if (kernel) {
        copyIn(strips[b], first, kernel.band(b));
        kernel.raise(b);
        continue;
      }
      const { re: zr, im: zi } = this.scratch[b];
      const lift = this.lifts[b];
      copyIn(strips[b], first, [zr, zi]);
      this.ffts[b].transform(zr, zi);
      re[0] += zr[0] * lift[0];
      im[0] += zi[0] * lift[0];
      for (let k = 1; k < size / 2; k++) {
        re[k] += zr[k] * lift[k];
        im[k] += zi[k] * lift[k];
        re[block - k] += zr[size - k] * lift[k];
        im[block - k] += zi[size - k] * lift[k];
      }
    }
    top.reach(start, start + left.length);
    if (kernel) {
      const at = start - top.base;
      kernel.finish();
      left.set(kernel.sum(0, guard, top.re.subarray(at, at + left.length)));
      right?.set(kernel.sum(1, guard, top.im.subarray(at, at + right.length)));
      return;
    }
    this.fft.transform(im, re);
    for (let i = 0, j = guard, k = start - top.base; i < left.length; i++, j++, k++) {
      left[i] = re[j] + top.re[k];
      if (right) right[i] = im[j] + top.im[k];
    }
  }
}

function copyIn(
  from: Strip,
  first: number,
  [re, im]: readonly (Float32Array | Float64Array)[],
): void {
  const end = Math.max(0, Math.min(re.length, from.length - first));
  from.reach(first, first + end);
  const at = first - from.base;
  re.set(from.re.subarray(at, at + end));
  im.set(from.im.subarray(at, at + end));
  re.fill(0, end);
  im.fill(0, end);
}
