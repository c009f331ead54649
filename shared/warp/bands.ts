import { ComplexFft } from '../math/complex-fft.ts';
import type { Hertz, Samples } from '../math/units.ts';

/**
 * One of three complementary bands, as the stretch works on it: low notes want long windows, attacks
 * short ones. All but the highest are kept at a lower rate. Windows and hops count band samples.
 */
export interface Band {
  /** Full-rate samples for each band sample. */
  readonly decimation: number;
  /** Length of the stretch's window, a power of two; frames overlap by three quarters. */
  readonly window: Samples;
  /** Share of the full rate at which this band gives way to the next one, and half the width of the change. */
  readonly edge: number;
  readonly slope: number;
}

/** Two channels as the real and the imaginary part of one complex signal. */
export interface Pair {
  readonly re: Float32Array;
  readonly im: Float32Array;
}

/** What the stretch of one band reads and writes; band samples, all with the same padding before the start. */
export interface BandSignals {
  /** Sum of all inputs, pair by pair of channels: every phase is decided here. */
  readonly lead: readonly Pair[];
  /** What is rendered, input by input, each with as many pairs as `lead`. */
  readonly sources: readonly Pair[];
  readonly outputs: readonly Pair[];
  /** With one input the sources are the lead, so that its frames serve twice. */
  readonly single: boolean;
}

/**
 * The bands for a sample rate: at 44.1 kHz they part at 1.2 and 4 kHz, with windows of 93, 46 and 23 ms.
 * They scale with the rate in octaves, so that the sums run on powers of two; the edges of other rates
 * lie within half an octave of these.
 */
export function bandsFor(sampleRate: Hertz): Band[] {
  const octave = Math.min(4, Math.max(-2, Math.round(Math.log2(sampleRate / 44100))));
  const scale = 2 ** octave;
  return [
    { decimation: 8 * scale, window: 512, edge: 1200 / 44100 / scale, slope: 250 / 44100 / scale },
    { decimation: 4 * scale, window: 512, edge: 4000 / 44100 / scale, slope: 700 / 44100 / scale },
    { decimation: 1, window: 1024 * scale, edge: 1, slope: 0.1 },
  ];
}

/** From 1 to 0 as `x` goes from -1 to 1, smooth to every derivative so that the filter's tail dies fast. */
function fall(x: number): number {
  if (x <= -1) return 1;
  if (x >= 1) return 0;
  return 1 / (1 + Math.exp((2 * x) / (1 - x * x)));
}

/** Share of a frequency (as a share of the rate) that lies below the edge of a band. */
const below = (band: Band, frequency: number): number => fall((frequency - band.edge) / band.slope);

/**
 * Splits a pair into its bands and puts bands together again, block by block with overlap-save. The
 * three masks add up to 1 in each block, so untouched bands give back the signal to rounding, whatever
 * the filters' tails do.
 */
export class BandSplitter {
  /** Full-rate samples that every band keeps before the signal's start and after its end. */
  readonly padding: Samples;
  private readonly block: number;
  private readonly guard: number;
  private readonly hop: number;
  private readonly fft: ComplexFft;
  private readonly ffts: ComplexFft[];
  private readonly masks: Float64Array[];
  private readonly lifts: Float64Array[];
  private readonly re: Float64Array;
  private readonly im: Float64Array;
  private readonly scratch: { re: Float64Array; im: Float64Array }[];
  private readonly bands: readonly Band[];

  constructor(bands: readonly Band[]) {
    this.bands = bands;
    this.block = bands[0].decimation * 2048;
    this.padding = this.block / 8;
    this.guard = this.block / 8;
    this.hop = this.block - 2 * this.guard;
    this.fft = new ComplexFft(this.block);
    this.ffts = bands.map((band) => new ComplexFft(this.block / band.decimation));
    this.masks = bands.map((band, i) =>
      Float64Array.from({ length: this.block / band.decimation / 2 + 1 }, (_, k) => {
        const f = k / this.block;
        return (below(band, f) - (i > 0 ? below(bands[i - 1], f) : 0)) / this.block;
      }),
    );
    // Upwards: everything the band may hold passes, and the images of the lower rate do not.
    this.lifts = bands.map((band) => {
      const half = 0.5 / band.decimation;
      const top = band.edge + band.slope;
      return Float64Array.from({ length: this.block / band.decimation / 2 + 1 }, (_, k) => {
        const x = (2 * (k / this.block - top)) / (half - top) - 1;
        return (fall(x) * band.decimation) / this.block;
      });
    });
    this.re = new Float64Array(this.block);
    this.im = new Float64Array(this.block);
    this.scratch = bands.map((band) => ({
      re: new Float64Array(this.block / band.decimation),
      im: new Float64Array(this.block / band.decimation),
    }));
  }

  /** Band sample `m` stands at full-rate sample `m * decimation - padding`. */
  split(left: Float32Array, right: Float32Array | undefined): Pair[] {
    const { block, guard, hop, re, im, bands } = this;
    const out = this.empty(left.length);
    for (let start = 0; start < left.length + 2 * this.padding; start += hop) {
      const first = start - guard - this.padding;
      fill(re, left, first);
      if (right) fill(im, right, first);
      else im.fill(0);
      this.fft.transform(re, im);
      bands.forEach((band, b) => {
        const size = block / band.decimation;
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
        copyOut(
          zr,
          out[b].re,
          guard / band.decimation,
          start / band.decimation,
          hop / band.decimation,
        );
        copyOut(
          zi,
          out[b].im,
          guard / band.decimation,
          start / band.decimation,
          hop / band.decimation,
        );
      });
    }
    return out;
  }

  /** Silent bands for a signal of `length` samples. */
  empty(length: Samples): Pair[] {
    return this.bands.map(({ decimation }) => {
      const samples = Math.ceil((length + 2 * this.padding) / decimation);
      return { re: new Float32Array(samples), im: new Float32Array(samples) };
    });
  }

  /** The bands (of `padding` as from `empty`) put together: `left.length` samples into `left`, `right`. */
  join(pairs: readonly Pair[], left: Float32Array, right: Float32Array | undefined): void {
    const { block, guard, hop, re, im } = this;
    const length = left.length;
    const top = pairs[pairs.length - 1];
    for (let start = 0; start < length; start += hop) {
      re.fill(0);
      im.fill(0);
      pairs.slice(0, -1).forEach((pair, b) => {
        const { decimation } = this.bands[b];
        const size = block / decimation;
        const { re: zr, im: zi } = this.scratch[b];
        const lift = this.lifts[b];
        fill(zr, pair.re, (start - guard + this.padding) / decimation);
        fill(zi, pair.im, (start - guard + this.padding) / decimation);
        this.ffts[b].transform(zr, zi);
        re[0] += zr[0] * lift[0];
        im[0] += zi[0] * lift[0];
        for (let k = 1; k < size / 2; k++) {
          re[k] += zr[k] * lift[k];
          im[k] += zi[k] * lift[k];
          re[block - k] += zr[size - k] * lift[k];
          im[block - k] += zi[size - k] * lift[k];
        }
      });
      this.fft.transform(im, re);
      const end = Math.min(length, start + hop);
      for (let i = start, j = guard; i < end; i++, j++) {
        left[i] = re[j] + top.re[i + this.padding];
        if (right) right[i] = im[j] + top.im[i + this.padding];
      }
    }
  }
}

function fill(to: Float64Array, from: Float32Array, first: number): void {
  const start = Math.max(0, -first);
  const end = Math.min(to.length, from.length - first);
  if (start > 0) to.fill(0, 0, Math.min(start, to.length));
  for (let i = start; i < end; i++) to[i] = from[first + i];
  if (end < to.length) to.fill(0, Math.max(0, end));
}

function copyOut(
  from: Float64Array,
  to: Float32Array,
  at: number,
  first: number,
  count: number,
): void {
  const end = Math.min(count, to.length - first);
  for (let i = 0; i < end; i++) to[first + i] = from[at + i];
}
