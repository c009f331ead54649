import { ComplexFft } from '../../math/complex-fft.ts';
import type { KernelRoom } from '../../math/kernel.ts';
import type { KernelFft } from '../../math/kernel-fft.ts';
import type { Samples } from '../../math/units.ts';

/** What is multiplied bin by bin, for each band: on the way down and on the way up, from 0 to half a band's block. */
export interface SplitTables {
  readonly block: Samples;
  readonly masks: readonly Float64Array[];
  /** None for the top band. */
  readonly lifts: readonly Float64Array[];
}

interface KernelBand {
  readonly fft: KernelFft;
  readonly mask: number;
  readonly lift: number;
}

/** Two channels. */
type Channels = readonly [Float32Array, Float32Array];

const kept = new Map<string, KernelSplit>();

/**
 * The sums of a `BandSplitter` by WebAssembly SIMD: spectra go from block to bands and back where kernels
 * work. There is one for each shape; what it holds counts from one call of the splitter to its end.
 */
export class KernelSplit {
  private constructor(
    private readonly whole: KernelFft,
    private readonly bands: readonly KernelBand[],
  ) {}

  /**
   * The one for some tables; null where the machine has no WebAssembly SIMD, and where a lower band's
   * block is as long as the whole one, so that they would share a place.
   *
   * @param shape what the tables are made from
   */
  static of(shape: string, { block, masks, lifts }: SplitTables): KernelSplit | null {
    const whole = new ComplexFft(block).kernel;
    const sizes = masks.map((mask) => 2 * (mask.length - 1));
    if (!whole || new Set([block, ...sizes.slice(0, -1)]).size < sizes.length) return null;
    let split = kept.get(shape);
    if (!split) {
      const bands = sizes.flatMap((size, b): KernelBand[] => {
        const fft = new ComplexFft(size).kernel;
        const [mask, lift] = [masks[b], lifts[b]].map((half) => mirrored(half, whole.room));
        return fft ? [{ fft, mask, lift }] : [];
      });
      split = new KernelSplit(whole, bands);
      kept.set(shape, split);
    }
    return split;
  }

  /** Where the samples of a block's two channels go, for `load`; asked for anew each time. */
  block(): Channels {
    return samplesOf(this.whole);
  }

  /** Transforms the block. */
  load(): void {
    forwards(this.whole);
  }

  /** What a band has of the block that was loaded, `count` samples of it from `first` on. */
  lower(b: number, first: Samples, count: Samples): Channels {
    const { whole } = this;
    const { fft, mask } = this.bands[b];
    const half = fft.size / 2;
    const beyond = whole.size - fft.size;
    for (const [from, to] of [
      [whole.reAt, fft.reAt],
      [whole.imAt, fft.imAt],
    ]) {
      fft.kernel.products(from, mask, half, to);
      const next = (half + 1) * 8;
      fft.kernel.products(from + beyond * 8 + next, mask + next, half - 1, to + next);
    }
    for (const at of [fft.reAt, fft.imAt])
      if (beyond > 0) fft.room.doubles(at + half * 8, 1)[0] = 0;
      else fft.kernel.products(at + half * 8, mask + half * 8, 1, at + half * 8);
    backwards(fft);
    for (const at of [fft.reAt, fft.imAt]) fft.kernel.demoted(at + first * 8, count, at);
    return [fft.room.floats(fft.reAt, count), fft.room.floats(fft.imAt, count)];
  }

  /** Begins to put bands together. */
  begin(): void {
    const { room, reAt, imAt, size } = this.whole;
    for (const at of [reAt, imAt]) room.doubles(at, size).fill(0);
  }

  /** Where the samples of a band's block go, for `raise`; asked for anew each time. */
  band(b: number): Channels {
    return samplesOf(this.bands[b].fft);
  }

  /** Adds a band's block to what is put together. */
  raise(b: number): void {
    const { whole } = this;
    const { fft, lift } = this.bands[b];
    forwards(fft);
    const half = fft.size / 2;
    const next = (half + 1) * 8;
    const beyond = (whole.size - fft.size) * 8;
    for (const [from, to] of [
      [fft.reAt, whole.reAt],
      [fft.imAt, whole.imAt],
    ]) {
      fft.kernel.productsAdded(from, lift, half, to);
      fft.kernel.productsAdded(from + next, lift + next, half - 1, to + beyond + next);
    }
  }

  /** From the spectrum of what was put together to samples. */
  finish(): void {
    backwards(this.whole);
  }

  /** Those samples from `first` on, added to what a channel of the top band has there, which is as long. */
  sum(channel: 0 | 1, first: Samples, top: Float32Array): Float32Array {
    const { kernel, room, reAt, imAt, workRe } = this.whole;
    const sums = room.floats(workRe, top.length);
    sums.set(top);
    kernel.doublesAdded((channel === 0 ? reAt : imAt) + first * 8, top.length, workRe);
    return sums;
  }
}

/** Where what is multiplied lies, the later half of the bins like the first; -1 for nothing. */
function mirrored(half: Float64Array | undefined, room: KernelRoom): number {
  if (!half) return -1;
  const later = half.slice(1, -1).reverse();
  const at = room.keepDoubles(half, half.length + later.length);
  room.doubles(at + half.length * 8, later.length).set(later);
  return at;
}

/** Floats stand in the later half of their block's place, and become doubles from its start on. */
const samplesOf = ({ room, reAt, imAt, size }: KernelFft): Channels => [
  room.floats(reAt + size * 4, size),
  room.floats(imAt + size * 4, size),
];

/** From samples to a spectrum. */
function forwards({ kernel, reAt, imAt, workRe, workIm, turns, size }: KernelFft): void {
  for (const at of [reAt, imAt]) kernel.promoted(at + size * 4, size, at);
  kernel.transform(reAt, imAt, workRe, workIm, turns, size);
}

/** From a spectrum to `size` times the samples, in double precision. */
function backwards({ kernel, reAt, imAt, workRe, workIm, turns, size }: KernelFft): void {
  kernel.transform(imAt, reAt, workRe, workIm, turns, size);
}
