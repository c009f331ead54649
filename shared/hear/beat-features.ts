import { RealFft } from '../math/fft.ts';
import { hann } from '../math/window.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import type { Onset } from './heard.ts';

/** Upper edges of the bands in which an onset's rise is measured, in Hz; the first begins at 30 Hz. */
export const BAND_EDGES = [110, 220, 440, 880, 1760, 3520, 7040, 14080] as const;
const LOWEST = 30;
/** Level under which a band counts as silent, relative to the take's own level. */
const FLOOR = 1e-3;

/**
 * What the sound does at each onset, one row an onset: rise in `BAND_EDGES.length` bands (natural
 * log of power after over power before, 0 and more), energy rise over all bands, and the twelve
 * pitch classes that are new and that sound. Nothing depends on the take's gain.
 */
export interface BeatFeatures {
  readonly rise: Float64Array;
  readonly energy: Float64Array;
  /** Pitch classes that begin here, each row scaled to length 1 (or all 0). */
  readonly fresh: Float64Array;
  /** Pitch classes that sound after the onset, each row scaled to length 1 (or all 0). */
  readonly chroma: Float64Array;
}

/** Mean of all channels. */
function mixOf(audio: Audio): Float32Array {
  const [first, ...others] = audio.channels;
  if (!first) return new Float32Array(0);
  const mix = Float32Array.from(first);
  for (const channel of others) for (let i = 0; i < mix.length; i++) mix[i] += channel[i];
  if (others.length > 0) for (let i = 0; i < mix.length; i++) mix[i] /= audio.channels.length;
  return mix;
}

/** Power spectrum of windowed stretches of one signal, samples outside it being 0. */
class Spectrum {
  readonly power: Float64Array;
  private readonly fft: RealFft;
  private readonly window: Float64Array;
  private readonly re: Float64Array;
  private readonly im: Float64Array;
  private readonly scratch: Float64Array;

  constructor(size: number) {
    this.fft = new RealFft(size);
    this.window = hann(size);
    this.re = new Float64Array(this.fft.bins);
    this.im = new Float64Array(this.fft.bins);
    this.power = new Float64Array(this.fft.bins);
    this.scratch = new Float64Array(size);
  }

  /** Power of `signal` from sample `start` on. */
  at(signal: Float32Array, start: number): Float64Array {
    const size = this.scratch.length;
    for (let i = 0; i < size; i++) {
      const n = start + i;
      this.scratch[i] = n >= 0 && n < signal.length ? signal[n] * this.window[i] : 0;
    }
    this.fft.forward(this.scratch, this.re, this.im);
    for (let k = 0; k < this.power.length; k++)
      this.power[k] = this.re[k] * this.re[k] + this.im[k] * this.im[k];
    return this.power;
  }
}

/** Pitch class (0 to 11, C is 0) of each bin between 55 and 2200 Hz, -1 for all others. */
function pitchClasses(bins: number, size: number, rate: number): Int8Array {
  return Int8Array.from({ length: bins }, (_, k) => {
    const hertz = (k * rate) / size;
    if (hertz < 55 || hertz > 2200) return -1;
    return ((Math.round(12 * Math.log2(hertz / 440)) % 12) + 21) % 12;
  });
}

function scaleRow(rows: Float64Array, row: number): void {
  let sum = 0;
  for (let c = 0; c < 12; c++) sum += rows[row * 12 + c] ** 2;
  if (sum > 0) for (let c = 0; c < 12; c++) rows[row * 12 + c] /= Math.sqrt(sum);
}

/** Measures the sound around each onset; see `BeatFeatures`. */
export function measureFeatures(audio: Audio, onsets: readonly Onset[]): BeatFeatures {
  const { sampleRate } = audio;
  const mix = mixOf(audio);
  const bandCount = BAND_EDGES.length;
  const rise = new Float64Array(onsets.length * bandCount);
  const energy = new Float64Array(onsets.length);
  const fresh = new Float64Array(onsets.length * 12);
  const chroma = new Float64Array(onsets.length * 12);
  if (lengthOf(audio) === 0 || onsets.length === 0) return { rise, energy, fresh, chroma };

  const size = 2 ** Math.round(Math.log2(sampleRate * 0.046));
  const long = size * 2;
  const short = new Spectrum(size);
  const wide = new Spectrum(long);
  const bandOf = Int8Array.from({ length: size / 2 + 1 }, (_, k) => {
    const hertz = (k * sampleRate) / size;
    return hertz < LOWEST ? -1 : BAND_EDGES.findIndex((edge) => hertz < edge);
  });
  const classOf = pitchClasses(long / 2 + 1, long, sampleRate);
  const before = new Float64Array(onsets.length * bandCount);
  const after = new Float64Array(onsets.length * bandCount);
  const bands = (start: number, into: Float64Array, row: number) => {
    const power = short.at(mix, start);
    for (let k = 0; k < power.length; k++)
      if (bandOf[k] >= 0) into[row * bandCount + bandOf[k]] += power[k];
  };
  const old = new Float64Array(12);
  const classes = (start: number, into: Float64Array, row: number) => {
    const power = wide.at(mix, start);
    for (let k = 0; k < power.length; k++)
      if (classOf[k] >= 0) into[row * 12 + classOf[k]] += Math.sqrt(power[k]);
  };
  for (let i = 0; i < onsets.length; i++) {
    const at = Math.round(onsets[i].time * sampleRate);
    bands(at - size, before, i);
    bands(at - Math.round(0.004 * sampleRate), after, i);
    old.fill(0);
    classes(at - long, old, 0);
    classes(at, chroma, i);
    for (let c = 0; c < 12; c++) fresh[i * 12 + c] = Math.max(0, chroma[i * 12 + c] - old[c]);
    scaleRow(fresh, i);
    scaleRow(chroma, i);
  }
  let level = 0;
  for (const value of after) level += value / after.length;
  const floor = level * FLOOR || Number.MIN_VALUE;
  for (let i = 0; i < onsets.length; i++) {
    let sumBefore = 0;
    let sumAfter = 0;
    for (let b = 0; b < bandCount; b++) {
      const x = before[i * bandCount + b];
      const y = after[i * bandCount + b];
      rise[i * bandCount + b] = Math.max(0, Math.log((y + floor) / (x + floor)));
      sumBefore += x;
      sumAfter += y;
    }
    energy[i] = Math.max(0, Math.log((sumAfter + floor) / (sumBefore + floor)));
  }
  return { rise, energy, fresh, chroma };
}
