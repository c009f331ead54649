import { ComplexFft } from '../math/complex-fft.ts';
import { KernelFrames } from '../math/kernel-frames.ts';
import { hann } from '../math/window.ts';
import type { Strip } from './strip.ts';

/**
 * Spectrum of a frame of two real channels packed into one complex signal: bin `k` and its mirror
 * `size - k` hold both. Turning `k` by an angle and the mirror by its opposite turns both channels.
 */
export interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** One rotation (or complex gain) for each bin from 0 to half the size. */
export type Turns = Spectrum;

export function makeSpectrum(size: number): Spectrum {
  return { re: new Float64Array(size), im: new Float64Array(size) };
}

export function copySpectrum(from: Spectrum, to: Spectrum): void {
  to.re.set(from.re);
  to.im.set(from.im);
}

/** What frames of one length need. */
export class Framer {
  readonly fft: ComplexFft;
  readonly window: Float64Array;
  readonly squared: Float64Array;
  /** What does the work where there is WebAssembly SIMD. */
  private readonly kernel: KernelFrames | null;
  private readonly ramps = new Map<number, Turns>();

  /** @param plain for the plain form, whatever the machine has; the other gives the same to the last bit */
  constructor(
    readonly size: number,
    plain = false,
  ) {
    this.fft = new ComplexFft(size, plain);
    this.kernel = this.fft.kernel && KernelFrames.of(this.fft.kernel);
    this.window = hann(size);
    this.squared = this.window.map((w) => w * w);
  }

  /** Moves a frame by a fraction of a sample: what keeps copies exact in the bands of lower rate. There are few. */
  ramp(fraction: number): Turns {
    let ramp = this.ramps.get(fraction);
    if (!ramp) {
      ramp = fractionRamp(this.size, fraction);
      this.ramps.set(fraction, ramp);
    }
    return ramp;
  }

  /** Windowed spectrum of `size` samples of a strip from `first` on; nothing from `limit` on counts. */
  analyse(strip: Strip, first: number, limit: number, to: Spectrum): void {
    const { size, window } = this;
    const { re, im } = to;
    const low = Math.min(size, Math.max(0, -first));
    const high = Math.max(low, Math.min(size, Math.min(strip.length, limit) - first));
    if (high > low) strip.reach(first + low, first + high);
    const { re: xr, im: xi } = strip;
    if (this.kernel) {
      this.kernel.apart(xr, xi, first + low - strip.base, low, high - low, re, im);
      return;
    }
    if (low > 0) {
      re.fill(0, 0, low);
      im.fill(0, 0, low);
    }
    for (let i = low, j = first + low - strip.base; i < high; i++, j++) {
      const w = window[i];
      re[i] = xr[j] * w;
      im[i] = xi[j] * w;
    }
    if (high < size) {
      re.fill(0, high);
      im.fill(0, high);
    }
    this.fft.transform(re, im);
  }

  /** Adds a frame, windowed again, into a buffer at `at`; the frame may be used up. The result is `size` times too large. */
  add(frame: Spectrum, to: Spectrum, at: number): void {
    const { window, size } = this;
    const { re, im } = frame;
    const { re: yr, im: yi } = to;
    const low = Math.max(0, -at);
    const high = Math.min(size, yr.length - at);
    if (this.kernel && low === 0 && high === size) {
      this.kernel.together(re, im, yr, yi, at);
      return;
    }
    this.fft.transform(im, re);
    for (let i = low, j = at + low; i < high; i++, j++) {
      const w = window[i];
      yr[j] += re[i] * w;
      yi[j] += im[i] * w;
    }
  }

  /**
   * What frames come to with nothing done to them: samples of a strip from `first` on, weighed by what
   * `weigh` added up for those frames, added to `to` from `low` to `high`.
   */
  copy(
    strip: Strip,
    first: number,
    weight: Float64Array,
    to: Spectrum,
    low: number,
    high: number,
  ): void {
    const { re: yr, im: yi } = to;
    const from = low + Math.max(0, -first);
    const end = Math.min(high, low + strip.length - first);
    if (end <= from) return;
    strip.reach(first + from - low, first + end - low);
    const { re: xr, im: xi } = strip;
    for (let i = from, s = first + from - low - strip.base; i < end; i++, s++) {
      const w = weight[i];
      yr[i] += xr[s] * w;
      yi[i] += xi[s] * w;
    }
  }

  /** Adds up what windows a place was given, for `add` and `copy` of frames cut off at `limit`. */
  weigh(to: Float64Array, at: number, limit: number): void {
    const { squared, size } = this;
    const low = Math.max(0, -at);
    const high = Math.min(size, to.length - at, limit);
    for (let i = low, j = at + low; i < high; i++, j++) to[j] += squared[i] * size;
  }
}

/** Spectra of one size that are used again and again, with anything in them. */
export class SpectrumStore {
  private readonly all: Spectrum[] = [];
  private used = 0;

  constructor(private readonly size: number) {}

  /** All that were taken are free again. */
  restart(): void {
    this.used = 0;
  }

  take(): Spectrum {
    if (this.used === this.all.length) this.all.push(makeSpectrum(this.size));
    return this.all[this.used++];
  }
}

/** Multiplies a spectrum by one complex number for each bin, mirrored bins by its conjugate. */
export function turn(spectrum: Spectrum, by: Turns, to: Spectrum = spectrum): void {
  const { re, im } = spectrum;
  const { re: tr, im: ti } = to;
  const { re: cos, im: sin } = by;
  const size = re.length;
  const half = size / 2;
  // At 0 and half the rate a real signal has no phase but its sign.
  tr[0] = re[0] * cos[0];
  ti[0] = im[0] * cos[0];
  tr[half] = re[half] * cos[half];
  ti[half] = im[half] * cos[half];
  for (let k = 1, m = size - 1; k < half; k++, m--) {
    const c = cos[k];
    const s = sin[k];
    const a = re[k];
    const b = im[k];
    const e = re[m];
    const f = im[m];
    tr[k] = a * c - b * s;
    ti[k] = a * s + b * c;
    tr[m] = e * c + f * s;
    ti[m] = f * c - e * s;
  }
}

function fractionRamp(size: number, fraction: number): Turns {
  const ramp = makeSpectrum(size / 2 + 1);
  for (let k = 0; k <= size / 2; k++) {
    ramp.re[k] = Math.cos((2 * Math.PI * k * fraction) / size);
    ramp.im[k] = Math.sin((2 * Math.PI * k * fraction) / size);
  }
  return ramp;
}

/** Power at each bin, all pairs and channels together. */
export function powersOf(spectra: readonly Spectrum[], power: Float64Array): void {
  power.fill(0);
  for (const { re, im } of spectra) {
    const size = re.length;
    const half = size / 2;
    power[0] += re[0] * re[0] + im[0] * im[0];
    power[half] += re[half] * re[half] + im[half] * im[half];
    for (let k = 1, m = size - 1; k < half; k++, m--)
      power[k] += re[k] * re[k] + im[k] * im[k] + re[m] * re[m] + im[m] * im[m];
  }
}

/**
 * The turn at bin `k` that brings `from` nearest to `to`, all channels together by their strength (so
 * the strongest leads), written to `turns[at]`; 1 where either is silent. Its length is held between
 * `least` and `most`.
 */
export function setTurn(
  from: readonly Spectrum[],
  to: readonly Spectrum[],
  k: number,
  turns: Turns,
  at: number,
  least = 1,
  most = 1,
): void {
  let pr = 0;
  let pi = 0;
  let energy = 0;
  for (let p = 0; p < from.length; p++) {
    const x = from[p];
    const y = to[p];
    const m = k === 0 ? 0 : x.re.length - k;
    const a = x.re[k];
    const b = x.im[k];
    const c = x.re[m];
    const d = x.im[m];
    pr += y.re[k] * a + y.im[k] * b + y.re[m] * c + y.im[m] * d;
    pi += y.im[k] * a - y.re[k] * b - y.im[m] * c + y.re[m] * d;
    energy += a * a + b * b + c * c + d * d;
  }
  const length = Math.sqrt(pr * pr + pi * pi);
  const gain = length > 0 ? Math.max(least, Math.min(most, length / energy)) / length : 0;
  turns.re[at] = gain > 0 ? pr * gain : 1;
  turns.im[at] = pi * gain;
}
