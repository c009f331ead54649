import { RealFft } from '../../../shared/math/fft.ts';
import { makeRandom } from '../../../shared/math/random.ts';
import type { Hertz } from '../../../shared/math/units.ts';
import { hann } from '../../../shared/math/window.ts';
import type { Audio } from '../../../shared/take/audio.ts';
import { makeTimeMap, type TimeMap, unmapTime } from '../../../shared/time/time-map.ts';
import { quantile } from './measures.ts';

/** A map of segments of half to one and a half seconds, ratios from 0.5 to 1.85. */
export function probeMap(seconds = 10, seed = 5): TimeMap {
  const random = makeRandom(seed);
  const anchors = [{ from: 0.5, to: 0.5 }];
  const ratios = [1, 0.5, 1.85, 0.75, 1.3, 1, 1.6, 0.6];
  for (let i = 0; anchors[i].from < seconds - 1; i++) {
    const step = 0.5 + random();
    anchors.push({
      from: anchors[i].from + step,
      to: anchors[i].to + step * ratios[i % ratios.length],
    });
  }
  return makeTimeMap(anchors);
}

export const rate = 44100;

const audioOf = (left: Float32Array, right = left): Audio => ({
  sampleRate: rate,
  channels: [left, right],
});

const signal = (seconds: number, at: (t: number) => number): Float32Array =>
  Float32Array.from({ length: Math.round(seconds * rate) }, (_, i) => at(i / rate));

const chordNotes = [110, 164.8, 220, 277.2, 329.6, 440, 659.3];

/** Seven steady sines, a chord over three octaves. */
export const steadyChord = (seconds = 10): Audio =>
  audioOf(
    signal(seconds, (t) =>
      chordNotes.reduce((s, f, i) => s + 0.08 * Math.sin(2 * Math.PI * f * t + i * i), 0),
    ),
  );

/**
 * What a steady chord has beside its partials: power outside 4 bins of each, against power inside, for
 * frames of 4096; and how far (dB, standard deviation) the level inside moves.
 */
export function chordFaults(result: Float32Array): {
  median: number;
  worst: number;
  wobble: number;
} {
  const size = 8192;
  const fft = new RealFft(size);
  // A window with side lobes 92 dB down (Blackman and Harris), so that the measure reaches below -60.
  const window = Float64Array.from({ length: size }, (_, i) => {
    const x = (2 * Math.PI * i) / size;
    return 0.35875 - 0.48829 * Math.cos(x) + 0.14128 * Math.cos(2 * x) - 0.01168 * Math.cos(3 * x);
  });
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const frame = new Float64Array(size);
  const spurs: number[] = [];
  const levels: number[] = [];
  for (let first = size; first + 2 * size < result.length; first += 1024) {
    for (let i = 0; i < size; i++) frame[i] = result[first + i] * window[i];
    fft.forward(frame, re, im);
    let inside = 0;
    let outside = 0;
    for (let k = 1; k < fft.bins; k++) {
      const p = re[k] * re[k] + im[k] * im[k];
      const f = (k * rate) / size;
      if (chordNotes.some((note) => Math.abs(note - f) < (5 * rate) / size)) inside += p;
      else outside += p;
    }
    spurs.push(10 * Math.log10(outside / inside));
    levels.push(10 * Math.log10(inside));
  }
  const mean = levels.reduce((s, l) => s + l, 0) / levels.length;
  const wobble = Math.sqrt(levels.reduce((s, l) => s + (l - mean) ** 2, 0) / levels.length);
  return { median: quantile(spurs, 0.5), worst: quantile(spurs, 0.95), wobble };
}

/** A sine that climbs from 200 Hz by an octave in five seconds. */
export const sweep = (seconds = 10): Audio =>
  audioOf(
    signal(seconds, (t) => {
      const octaves = 0.2;
      const phase = (200 * (2 ** (octaves * t) - 1)) / (octaves * Math.LN2);
      return 0.4 * Math.sin(2 * Math.PI * phase);
    }),
  );

/** Distance (cents, 95 %) of a warped sweep from its course and wobble of its level (dB). */
export function sweepFaults(
  result: Float32Array,
  map: TimeMap,
  seconds: number,
): { cents: number; wobble: number } {
  const { frequency, level } = trackTone(result);
  const cents: number[] = [];
  const levels: number[] = [];
  frequency.forEach(({ time, hertz }, i) => {
    const source = unmapTime(map, time);
    if (source < 0.3 || source > seconds - 0.5) return;
    cents.push(Math.abs(1200 * Math.log2(hertz / (200 * 2 ** (0.2 * source)))));
    levels.push(level[i]);
  });
  const mean = levels.reduce((s, l) => s + l, 0) / levels.length;
  const wobble = Math.sqrt(levels.reduce((s, l) => s + (l - mean) ** 2, 0) / levels.length);
  return { cents: quantile(cents, 0.95), wobble };
}

/** Frequency and level of a lone tone (or of what lies from `low` to `high`), every 5 ms, by the phase of its analytic signal. */
export function trackTone(
  result: Float32Array,
  low: Hertz = 0,
  high: Hertz = rate,
): {
  frequency: { time: number; hertz: number }[];
  level: number[];
} {
  const size = 2 ** Math.ceil(Math.log2(result.length));
  const fft = new RealFft(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const padded = new Float64Array(size);
  padded.set(result);
  fft.forward(padded, re, im);
  if (low > 0) {
    for (let k = 0; k < fft.bins; k++) {
      const hertz = (k * rate) / size;
      if (hertz >= low && hertz <= high) continue;
      re[k] = 0;
      im[k] = 0;
    }
    fft.inverse(re, im, padded);
  }
  const turned = new Float64Array(size);
  fft.inverse(
    im,
    re.map((v) => -v),
    turned,
  );
  const frequency: { time: number; hertz: number }[] = [];
  const level: number[] = [];
  const step = Math.round(0.005 * rate);
  for (let i = step; i + step < result.length; i += step) {
    const before = Math.atan2(turned[i - step], padded[i - step]);
    // Turns between the two points, from single steps so that nothing has to be unwrapped.
    let turns = 0;
    let last = before;
    for (let n = i - step + 1; n <= i + step; n++) {
      const now = Math.atan2(turned[n], padded[n]);
      const d = now - last;
      turns += d - 2 * Math.PI * Math.round(d / (2 * Math.PI));
      last = now;
    }
    frequency.push({ time: i / rate, hertz: (Math.abs(turns) * rate) / (4 * Math.PI * step) });
    level.push(10 * Math.log10(padded[i] ** 2 + turned[i] ** 2 + 1e-12));
  }
  return { frequency, level };
}

/** A tone of up to three partials with vibrato of a rate (Hz) and depth (cents). */
export const vibrato = (hertz = 5.5, cents = 40, seconds = 10, partials = 3): Audio =>
  audioOf(
    signal(seconds, (t) => {
      const depth = (440 * cents * Math.LN2) / 1200;
      const phase = 440 * t - (depth / (2 * Math.PI * hertz)) * Math.cos(2 * Math.PI * hertz * t);
      return [1, 2, 3]
        .slice(0, partials)
        .reduce((s, h) => s + (0.3 / h) * Math.sin(2 * Math.PI * h * phase), 0);
    }),
  );

const swing = { hertz: 5.5, cents: 40, note: 2.5 };

/** Notes of 2.5 s with vibrato, swelling in over 80 ms and dying away by `fall` dB a second, as sung and bowed ones do. */
export const sungNotes = (fall: number, seconds = 10): Audio =>
  audioOf(
    signal(seconds, (t) => {
      const depth = (440 * swing.cents * Math.LN2) / 1200;
      const turn = 2 * Math.PI * swing.hertz;
      const phase = 440 * t - (depth / turn) * Math.cos(turn * t);
      const at = t % swing.note;
      const level = 10 ** ((-fall * at) / 20) * Math.min(1, at / 0.08, (swing.note - at) / 0.05);
      return 0.4 * level * Math.sin(2 * Math.PI * phase);
    }),
  );

/**
 * How far (cents, 95 %) the notes' pitch is from where the map has it, and the longest time (ms) that
 * it stands still, moving by less than a cent in 10 ms.
 */
export function sungFaults(result: Float32Array, map: TimeMap): { cents: number; still: number } {
  const { frequency } = trackTone(result);
  const pitch = frequency.map(({ hertz }) => 1200 * Math.log2(hertz / 440));
  const off: number[] = [];
  let still = 0;
  let longest = 0;
  frequency.forEach(({ time }, i) => {
    const source = unmapTime(map, time);
    const at = source % swing.note;
    if (i < 2 || source < 0 || at < 0.15 || at > swing.note - 0.2) {
      still = 0;
      return;
    }
    off.push(Math.abs(pitch[i] - swing.cents * Math.sin(2 * Math.PI * swing.hertz * source)));
    still = Math.abs(pitch[i] - pitch[i - 2]) < 1 ? still + 5 : 0;
    longest = Math.max(longest, still);
  });
  return { cents: quantile(off, 0.95), still: longest };
}

/** Noise in a band about 800 Hz wide with a slow swell: breath, bow, brush. */
export function breath(seconds = 10, seed = 3): Audio {
  const random = makeRandom(seed);
  let a = 0;
  let b = 0;
  const x = signal(seconds, (t) => {
    // A resonator at 2 kHz (two poles).
    const w = (2 * Math.PI * 2000) / rate;
    const r = 0.945;
    const y = random() * 2 - 1 + 2 * r * Math.cos(w) * a - r * r * b;
    b = a;
    a = y;
    return 0.02 * y * (1 + 0.5 * Math.sin(2 * Math.PI * 0.7 * t));
  });
  return audioOf(x);
}

/**
 * How tonal noise is: over frames of 93 ms, the mean of the spectral peaks' height above the mean power
 * (dB), which rises when bins keep their phase from frame to frame.
 */
export function tonality(result: Float32Array): number {
  const size = 4096;
  const fft = new RealFft(size);
  const window = hann(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const frame = new Float64Array(size);
  let sum = 0;
  let n = 0;
  for (let first = size; first + 2 * size < result.length; first += size) {
    for (let i = 0; i < size; i++) frame[i] = result[first + i] * window[i];
    fft.forward(frame, re, im);
    let log = 0;
    let mean = 0;
    const from = Math.round((1200 * size) / rate);
    const to = Math.round((2800 * size) / rate);
    for (let k = from; k < to; k++) {
      const p = re[k] * re[k] + im[k] * im[k] + 1e-20;
      log += Math.log(p);
      mean += p;
    }
    // Spectral flatness (geometric over arithmetic mean), as dB of how peaky it is.
    sum += 10 * Math.log10(mean / (to - from)) - (10 / Math.LN10) * (log / (to - from));
    n++;
  }
  return sum / n;
}
