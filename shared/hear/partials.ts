import { RealFft } from '../math/fft.ts';
import type { Hertz, Seconds } from '../math/units.ts';
import { hann } from '../math/window.ts';
import { type Audio, lengthOf } from '../take/audio.ts';

/** The spectral peaks of one moment: frequencies and magnitudes side by side. */
export interface Partials {
  readonly time: Seconds;
  readonly frequencies: readonly Hertz[];
  readonly magnitudes: readonly number[];
}

const lowest: Hertz = 60;
const highest: Hertz = 2200;

/**
 * Spectral peaks between 60 and 2200 Hz in windows of about 0.19 s, one every `hop` seconds. A peak's
 * frequency is refined by a parabola through three log magnitudes (J. O. Smith, Spectral Audio Signal
 * Processing, "Quadratic Interpolation of Spectral Peaks"). At most `most` peaks a window, strongest first.
 */
export function hearPartials(audio: Audio, hop: Seconds = 0.1, most = 24): Partials[] {
  const rate = audio.sampleRate;
  const size = 2 ** Math.max(5, Math.round(Math.log2(rate * 0.186)));
  const fft = new RealFft(size);
  const window = hann(size);
  const frame = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const level = new Float64Array(fft.bins);
  const from = Math.max(2, Math.floor((lowest * size) / rate));
  const until = Math.min(fft.bins - 2, Math.ceil((highest * size) / rate));
  const moments: Partials[] = [];
  const length = lengthOf(audio);
  for (let center = 0; center < length; center += hop * rate) {
    const start = Math.round(center - size / 2);
    frame.fill(0);
    const first = Math.max(0, -start);
    const last = Math.min(size, length - start);
    for (const channel of audio.channels)
      for (let i = first; i < last; i++) frame[i] += channel[start + i] * window[i];
    fft.forward(frame, re, im);
    let top = 0;
    for (let k = from - 1; k <= until + 1; k++) {
      level[k] = Math.hypot(re[k], im[k]);
      top = Math.max(top, level[k]);
    }
    const peaks: { frequency: Hertz; magnitude: number }[] = [];
    for (let k = from; k <= until; k++) {
      if (level[k] < top * 0.01 || level[k] < 1e-6) continue;
      if (level[k] <= level[k - 1] || level[k] < level[k + 1]) continue;
      const a = Math.log(level[k - 1] + 1e-12);
      const b = Math.log(level[k]);
      const c = Math.log(level[k + 1] + 1e-12);
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
  return moments;
}
