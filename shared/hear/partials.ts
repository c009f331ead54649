import { RealFft } from '../math/fft.ts';
import type { Hertz, Seconds } from '../math/units.ts';
import { hann } from '../math/window.ts';
import type { Audio } from '../take/audio.ts';
import { mixForHearing } from './onset-mix.ts';

/** The spectral peaks of one moment: frequencies and magnitudes side by side, strongest first. */
export interface Partials {
  readonly time: Seconds;
  readonly frequencies: readonly Hertz[];
  readonly magnitudes: readonly number[];
}

const lowest: Hertz = 60;
const highest: Hertz = 2200;
/** Pitch is heard at no less than this rate: nothing above `highest` is wanted, so most samples are not. */
const leastRate: Hertz = 8000;
/** A peak this far below the strongest of its moment, or of the whole take, is no note. */
const belowMoment = 0.01;
const belowTake = 0.001;

/**
 * Spectral peaks between 60 and 2200 Hz in windows of about 0.23 s, one every `hop` seconds. A peak's
 * frequency is refined by a parabola through three log magnitudes (J. O. Smith, Spectral Audio Signal
 * Processing, "Quadratic Interpolation of Spectral Peaks"). At most `most` peaks a window, strongest first.
 */
export function hearPartials(audio: Audio, hop: Seconds = 0.1, most = 24): Partials[] {
  const { signal, rate } = slowed(audio);
  const size = 2 ** Math.max(5, Math.round(Math.log2(rate * 0.2)));
  const fft = new RealFft(size);
  const window = hann(size);
  const frame = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const level = new Float64Array(fft.bins);
  const from = Math.max(2, Math.floor((lowest * size) / rate));
  const until = Math.min(fft.bins - 2, Math.ceil((highest * size) / rate));
  const moments: Partials[] = [];
  let strongest = 0;
  for (let center = 0; center < signal.length; center += hop * rate) {
    const start = Math.round(center - size / 2);
    frame.fill(0);
    const first = Math.max(0, -start);
    const last = Math.min(size, signal.length - start);
    for (let i = first; i < last; i++) frame[i] = signal[start + i] * window[i];
    fft.forward(frame, re, im);
    let top = 0;
    for (let k = from - 1; k <= until + 1; k++) {
      level[k] = Math.sqrt(re[k] * re[k] + im[k] * im[k]);
      if (level[k] > top) top = level[k];
    }
    strongest = Math.max(strongest, top);
    const peaks: { frequency: Hertz; magnitude: number }[] = [];
    for (let k = from; k <= until; k++) {
      if (level[k] < top * belowMoment || level[k] === 0) continue;
      if (level[k] <= level[k - 1] || level[k] < level[k + 1]) continue;
      const a = Math.log(level[k - 1] + top * 1e-9);
      const b = Math.log(level[k]);
      const c = Math.log(level[k + 1] + top * 1e-9);
      const shift = (0.5 * (a - c)) / (a - 2 * b + c);
      peaks.push({ frequency: ((k + shift) * rate) / size, magnitude: level[k] });
    }
    peaks.sort((a, b) => b.magnitude - a.magnitude);
    peaks.length = Math.min(peaks.length, most);
    moments.push({
      time: center / rate,
      frequencies: peaks.map((p) => p.frequency),
      magnitudes: peaks.map((p) => p.magnitude),
    });
  }
  return moments.map((moment) => audible(moment, strongest * belowTake));
}

/** The moment without what lies below a level: hiss between the notes is no harmony. */
function audible(moment: Partials, floor: number): Partials {
  const count = moment.magnitudes.findIndex((magnitude) => magnitude < floor);
  if (count < 0) return moment;
  return {
    time: moment.time,
    frequencies: moment.frequencies.slice(0, count),
    magnitudes: moment.magnitudes.slice(0, count),
  };
}

/** All channels together at a low rate: every n-th sample of a windowed sinc's output, aligned. */
function slowed(audio: Audio): { signal: Float32Array; rate: Hertz } {
  const factor = Math.max(1, Math.floor(audio.sampleRate / leastRate));
  const rate = audio.sampleRate / factor;
  const mixed = mixForHearing(audio);
  const length = mixed.length;
  if (factor === 1) return { signal: mixed, rate };
  const reach = 6 * factor;
  const taps = Float64Array.from({ length: 2 * reach + 1 }, (_, i) => {
    const x = i - reach;
    const sinc = x === 0 ? 1 : Math.sin((Math.PI * x) / factor) / ((Math.PI * x) / factor);
    return (sinc / factor) * (0.5 + 0.5 * Math.cos((Math.PI * x) / (reach + 1)));
  });
  const signal = new Float32Array(Math.ceil(length / factor));
  for (let n = 0; n < signal.length; n++) {
    const from = n * factor - reach;
    const first = Math.max(0, -from);
    const last = Math.min(taps.length, length - from);
    let sum = 0;
    for (let k = first; k < last; k++) sum += taps[k] * mixed[from + k];
    signal[n] = sum;
  }
  return { signal, rate };
}
