import { ComplexFft } from '../math/complex-fft.ts';
import type { KernelFft } from '../math/kernel-fft.ts';
import type { Samples } from '../math/units.ts';

/** What is multiplied bin by bin, for each band: on the way down and on the way up, from 0 to half a band's block. */
export interface SplitTables {
  readonly block: Samples;
  readonly masks: readonly Float64Array[];
  readonly lifts: readonly Float64Array[];
}

interface KernelBand {
  readonly fft: KernelFft;
  readonly mask: number;
  readonly lift: number;
}

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
        const place = (half: Float64Array) =>
          whole.room.keepDoubles(
            Float64Array.from({ length: size }, (_, k) => half[Math.min(k, size - k)]),
          );
        return fft ? [{ fft, mask: place(masks[b]), lift: place(lifts[b]) }] : [];
      });
      split = new KernelSplit(whole, bands);
      kept.set(shape, split);
    }
    return split;
  }

  /** Where a block's two channels, and in the end what bands come to, stand; asked for anew each time. */
  block(): readonly [Float64Array, Float64Array] {
    return viewsOf(this.whole);
  }

  /** Where a band's block stands, before `raise` and after `lower`; asked for anew each time. */
  band(b: number): readonly [Float64Array, Float64Array] {
    return viewsOf(this.bands[b].fft);
  }

  /** Transforms the block. */
  load(): void {
    transform(this.whole, true);
  }

  /** What a band has of the block that was loaded. */
  lower(b: number): void {
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
    for (const part of viewsOf(fft)) if (beyond > 0) part[half] = 0;
    if (beyond === 0)
      for (const at of [fft.reAt, fft.imAt])
        fft.kernel.products(at + half * 8, mask + half * 8, 1, at + half * 8);
    transform(fft, false);
  }

  /** Adds a band's block to the spectrum in `block`. */
  raise(b: number): void {
    const { whole } = this;
    const { fft, lift } = this.bands[b];
    transform(fft, true);
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

  /** From the spectrum in `block` to samples. */
  finish(): void {
    transform(this.whole, false);
  }
}

const viewsOf = ({ room, reAt, imAt, size }: KernelFft): readonly [Float64Array, Float64Array] => [
  room.doubles(reAt, size),
  room.doubles(imAt, size),
];

function transform(fft: KernelFft, forward: boolean): void {
  const { kernel, reAt, imAt, workRe, workIm, turns, size } = fft;
  if (forward) kernel.transform(reAt, imAt, workRe, workIm, turns, size);
  else kernel.transform(imAt, reAt, workRe, workIm, turns, size);
}
