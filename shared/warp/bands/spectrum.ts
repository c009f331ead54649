import { ComplexFft } from '../../math/complex-fft.ts';
import { lastingKernels } from '../../math/kernel-fft.ts';
import { KernelFrames } from '../../math/kernel-frames.ts';
import { type Doubles, Place } from '../../math/kernel-places.ts';
import type { Samples, Share } from '../../math/units.ts';
import { hann } from '../../math/window.ts';
import type { Strip } from './strip.ts';

/**
 * Spectrum of a frame of two real channels packed into one complex signal: bin `k` and its mirror
 * `size - k` hold both. Turning `k` by an angle and the mirror by its opposite turns both channels.
 */
export interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
  /** Address in the kernels' memory, if it lies there: the imaginary parts right behind the real ones. */
  readonly at?: number;
}

/** One rotation (or complex gain) for each bin from 0 to half the size. */
export type Turns = Spectrum;

function makeSpectrum(size: number): Spectrum {
  return { re: new Float64Array(size), im: new Float64Array(size) };
}

export function copySpectrum(from: Spectrum, to: Spectrum): void {
  to.re.set(from.re);
  to.im.set(from.im);
}

const none = new Float64Array(0);

/** A spectrum where kernels find it; memory that has grown is elsewhere. */
class PlacedSpectrum implements Spectrum {
  readonly at: number;
  private real = none;
  private imaginary = none;

  constructor(
    private readonly place: Place,
    from: number,
    private readonly size: number,
  ) {
    this.at = place.at + from * 8;
  }

  get re(): Float64Array {
    if (this.real.length === 0) this.real = this.view(0);
    return this.real;
  }

  get im(): Float64Array {
    if (this.imaginary.length === 0) this.imaginary = this.view(this.size);
    return this.imaginary;
  }

  private view(from: number): Float64Array<ArrayBuffer> {
    return this.place.kernels.room.doubles(this.at + from * 8, this.size);
  }
}

/**
 * Spectra of one size, pair by pair of channels, with anything in them. Where there is WebAssembly SIMD they lie where
 * kernels work, one after the other; `leave` hands that memory on.
 */
export class Spectra {
  readonly pairs: readonly Spectrum[];
  private readonly place: Place | null;

  /** @param plain for plain memory, whatever the machine has */
  constructor(
    count: number,
    readonly size: number,
    plain = false,
  ) {
    const place = plain ? null : Place.take(2 * size * count);
    this.place = place;
    const pairs: Spectrum[] = [];
    for (let p = 0; p < count; p++)
      pairs.push(place ? new PlacedSpectrum(place, 2 * size * p, size) : makeSpectrum(size));
    this.pairs = pairs;
  }

  /** Address of the first in the kernels' memory, if they lie there. */
  get at(): number | undefined {
    return this.place?.at;
  }

  leave(): void {
    this.place?.leave();
  }

  /** Fills them with silence. */
  clear(): void {
    for (const { re, im } of this.pairs) {
      re.fill(0);
      im.fill(0);
    }
  }

  copyFrom({ pairs }: Spectra): void {
    for (let p = 0; p < pairs.length; p++) copySpectrum(pairs[p], this.pairs[p]);
  }

  /** Power at each bin from 0 to half the size, all pairs and channels together. */
  powers(to: Doubles): void {
    const { place, pairs, size } = this;
    if (place && to.at !== undefined)
      place.kernels.kernel.pairPowers(place.at, pairs.length, size, to.at);
    else powersOf(pairs, to.values);
  }
}

/** Kept for good. */
const placedRamps = new Map<string, Turns>();
const plainRamps = new Map<string, Turns>();

interface PlainTables {
  readonly window: Float64Array;
  readonly weights: Float64Array;
}

/** What frames of one length need. Kernels work where all that they are given lies in their memory. */
export class Framer {
  readonly fft: ComplexFft;
  /** What does the work where there is WebAssembly SIMD. */
  private readonly kernel: KernelFrames | null;
  private tables: PlainTables | undefined;

  /** @param plain for the plain form, whatever the machine has; the other gives the same to the last bit */
  constructor(
    readonly size: number,
    plain = false,
  ) {
    this.fft = new ComplexFft(size, plain);
    this.kernel = this.fft.kernel && KernelFrames.of(this.fft.kernel);
  }

  /** Made when the plain form first asks for them. */
  private get plain(): PlainTables {
    if (!this.tables) {
      const window = hann(this.size);
      this.tables = { window, weights: window.map((w) => w * w * this.size) };
    }
    return this.tables;
  }

  /** Moves a frame by a fraction of a sample: what keeps copies exact in the bands of lower rate. There are few. */
  ramp(fraction: number): Turns {
    const { size, kernel } = this;
    const kept = kernel ? placedRamps : plainRamps;
    const name = `${size} ${fraction}`;
    let ramp = kept.get(name);
    if (!ramp) {
      [ramp] = new Spectra(1, size / 2 + 1, !kernel).pairs;
      setRamp(ramp, size, fraction);
      kept.set(name, ramp);
    }
    return ramp;
  }

  /** Windowed spectrum of `size` samples of a strip from `first` on; nothing from `limit` on counts. */
  analyse(strip: Strip, first: number, limit: number, to: Spectrum): void {
    const { size, kernel } = this;
    const low = Math.min(size, Math.max(0, -first));
    const high = Math.max(low, Math.min(size, Math.min(strip.length, limit) - first));
    if (high > low) strip.reach(first + low, first + high);
    const { re: xr, im: xi } = strip;
    if (kernel && to.at !== undefined) {
      const placed = high - low === size ? strip.placed(first, first + size) : undefined;
      if (placed) kernel.apartPlaced(placed.re, placed.im, to.at);
      else kernel.apart(xr, xi, first + low - strip.base, low, high - low, to.at);
      return;
    }
    const { window } = this.plain;
    const { re, im } = to;
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

  /**
   * Adds a frame, windowed again, into sums at `at`. The result is `size` times too large.
   */
  add(frame: Spectrum, to: Spectrum, length: Samples, at: number): void {
    const { size, kernel } = this;
    const low = Math.max(0, -at);
    const high = Math.min(size, length - at);
    if (kernel && frame.at !== undefined && to.at !== undefined) {
      const sums = to.at + (at + low) * 8;
      if (high > low) kernel.together(frame.at, low, high, sums, sums + length * 8);
      return;
    }
    const { window } = this.plain;
    const re = frame.re.slice();
    const im = frame.im.slice();
    const { re: yr, im: yi } = to;
    this.fft.transform(im, re);
    for (let i = low, j = at + low; i < high; i++, j++) {
      const w = window[i];
      yr[j] += re[i] * w;
      yi[j] += im[i] * w;
    }
  }

  /** Adds up what windows a place was given by frames at `at`, cut off at `limit`: what `add` makes of 1. */
  weigh(to: Doubles, length: Samples, at: number, limit: number): void {
    const { size, kernel } = this;
    const low = Math.max(0, -at);
    const high = Math.min(size, length - at, limit);
    if (kernel && to.at !== undefined) {
      if (high > low) kernel.weigh(low, high - low, to.at + (at + low) * 8);
      return;
    }
    const { weights } = this.plain;
    const sums = to.values;
    for (let i = low, j = at + low; i < high; i++, j++) sums[j] += weights[i];
  }
}

/** Spectra of one size that are needed for a while. */
export class SpectrumStore {
  private readonly taken: Spectra[] = [];

  constructor(private readonly size: number) {}

  /** All that were taken are free again. */
  restart(): void {
    for (const spectra of this.taken) spectra.leave();
    this.taken.length = 0;
  }

  /** Spectra with anything in them. */
  take(count: number): Spectra {
    const spectra = new Spectra(count, this.size);
    this.taken.push(spectra);
    return spectra;
  }
}

/** Multiplies a spectrum by one complex number for each bin, mirrored bins by its conjugate. */
export function turn(spectrum: Spectrum, by: Turns, to: Spectrum = spectrum): void {
  const kernel = lastingKernels()?.kernel;
  if (kernel && spectrum.at !== undefined && by.at !== undefined && to.at !== undefined) {
    kernel.turned(spectrum.at, spectrum.re.length, by.at, to.at);
    return;
  }
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

function setRamp({ re, im, at }: Turns, size: number, fraction: number): void {
  if (at !== undefined) {
    lastingKernels()?.kernel.rampTurns(at, size, fraction);
    return;
  }
  for (let k = 0; k <= size / 2; k++) {
    re[k] = Math.cos((2 * Math.PI * k * fraction) / size);
    im[k] = Math.sin((2 * Math.PI * k * fraction) / size);
  }
}

/** Power at each bin, all pairs and channels together. */
function powersOf(spectra: readonly Spectrum[], power: Float64Array): void {
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

/** Bins on each side that may have a say beside a peak. */
const beside = 2;
/** Share of a peak's power from which a bin beside it has a say. */
const nearly = 0.9;

/** What a bin's say is, given its share of the peak's power: as strong a bin's is the peak's own. */
function sayOf(share: Share): Share {
  const over = (share - nearly) / (1 - nearly);
  return over > 0 ? over * over : 0;
}

/**
 * The turn at bin `k` that brings `from` nearest to `to`, all channels together by their strength (so
 * the strongest leads), written to `turns[at]`; 1 where either is silent. Its length is held between
 * `least` and `most`.
 *
 * @param power where it is given, bins beside `k` that are nearly as strong have a say, so that little hangs on
 *   which of two that are as strong as each other is the peak
 */
export function setTurn(
  { pairs: from, size, at: fromAt }: Spectra,
  { pairs: to, at: toAt }: Spectra,
  k: number,
  turns: Turns,
  at: number,
  least = 1,
  most = 1,
  power?: Float64Array,
): void {
  const kernel = lastingKernels()?.kernel;
  const placed = fromAt !== undefined && toAt !== undefined && turns.at !== undefined;
  // Where bins beside have a say, all of lockPhases is a kernel.
  if (kernel && placed && !power) {
    const re = turns.at + at * 8;
    const im = re + turns.re.length * 8;
    kernel.turnBetween(0, fromAt, toAt, from.length, size, k, least, most, re, im);
    return;
  }
  let pr = 0;
  let pi = 0;
  let energy = 0;
  const first = power ? Math.max(0, k - beside) : k;
  const last = power ? Math.min(power.length - 1, k + beside) : k;
  for (let j = first; j <= last; j++) {
    const say = j === k || !power ? 1 : sayOf(power[j] / power[k]);
    if (say === 0) continue;
    for (let p = 0; p < from.length; p++) {
      const x = from[p];
      const y = to[p];
      const m = j === 0 ? 0 : x.re.length - j;
      const a = x.re[j];
      const b = x.im[j];
      const c = x.re[m];
      const d = x.im[m];
      pr += say * (y.re[j] * a + y.im[j] * b + y.re[m] * c + y.im[m] * d);
      pi += say * (y.im[j] * a - y.re[j] * b - y.im[m] * c + y.re[m] * d);
      energy += say * (a * a + b * b + c * c + d * d);
    }
  }
  const length = Math.sqrt(pr * pr + pi * pi);
  const gain = length > 0 ? Math.max(least, Math.min(most, length / energy)) / length : 0;
  turns.re[at] = gain > 0 ? pr * gain : 1;
  turns.im[at] = pi * gain;
}
