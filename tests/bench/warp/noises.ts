import { RealFft } from '../../../shared/math/fft.ts';
import { makeRandom } from '../../../shared/math/random.ts';
import type { Decibels, Hertz, Seconds } from '../../../shared/math/units.ts';
import { hann } from '../../../shared/math/window.ts';
import type { Audio } from '../../../shared/take/audio.ts';
import { breath, rate } from './probes.ts';

const mono = (samples: Float32Array): Audio => ({ sampleRate: rate, channels: [samples] });

/** Nearly normal: a sum of four even ones. */
const normal = (random: () => number): number => random() + random() + random() + random() - 2;

export function whiteNoise(seconds: Seconds, seed = 1): Audio {
  const random = makeRandom(seed);
  return mono(Float32Array.from({ length: seconds * rate }, () => 0.1 * normal(random)));
}

/** White noise through three first-order low-passes (Paul Kellet's economy filter, public domain, from memory). */
export function pinkNoise(seconds: Seconds, seed = 1): Audio {
  const random = makeRandom(seed);
  let a = 0;
  let b = 0;
  let c = 0;
  return mono(
    Float32Array.from({ length: seconds * rate }, () => {
      const w = normal(random);
      a = 0.99765 * a + 0.099046 * w;
      b = 0.963 * b + 0.2965164 * w;
      c = 0.57 * c + 1.0526913 * w;
      return 0.02 * (a + b + c + 0.1848 * w);
    }),
  );
}

/** Breath beside a tone of five partials, as a blown note has it. */
export function breathyTone(seconds: Seconds): Audio {
  const samples = breath(seconds).channels[0].map((v, i) => {
    let tone = 0;
    for (let h = 1; h <= 5; h++) tone += (0.1 / h) * Math.sin((2 * Math.PI * 440 * h * i) / rate);
    return 0.3 * v + tone;
  });
  return mono(samples);
}

/** 400 short grains of noise a second, as rain, brushes and shakers have them. */
export function rain(seconds: Seconds, seed = 9): Audio {
  const random = makeRandom(seed);
  const samples = new Float32Array(seconds * rate);
  for (let n = 0; n < seconds * 400; n++) {
    const at = Math.floor(random() * (samples.length - 400));
    const level = 0.3 * random() ** 2;
    const fall = 20 + 100 * random();
    let before = 0;
    for (let i = 0; i < 400; i++) {
      const w = normal(random);
      samples[at + i] += level * Math.exp(-i / fall) * (w - 0.5 * before);
      before = w;
    }
  }
  return mono(samples);
}

/**
 * What a spectrum of 93 ms is like from `low` to `high`: its level, and how peaky it is (arithmetic over
 * geometric mean of power in groups of 24 bins; 2.5 dB in noise, more where it is tonal).
 */
export function textureOf(
  samples: Float32Array,
  low: Hertz,
  high: Hertz,
): { level: Decibels; peaky: Decibels } {
  const size = 4096;
  const group = 24;
  const fft = new RealFft(size);
  const window = hann(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const frame = new Float64Array(size);
  let power = 0;
  let peaky = 0;
  let n = 0;
  for (let first = 4 * size; first + 4 * size < samples.length; first += size / 2) {
    for (let i = 0; i < size; i++) frame[i] = samples[first + i] * window[i];
    fft.forward(frame, re, im);
    for (let k = Math.round((low * size) / rate); k + group < (high * size) / rate; k += group) {
      let log = 0;
      let mean = 0;
      for (let i = k; i < k + group; i++) {
        const p = re[i] * re[i] + im[i] * im[i] + 1e-20;
        log += Math.log(p) / group;
        mean += p / group;
      }
      power += mean;
      peaky += 10 * Math.log10(mean) - (10 / Math.LN10) * log;
      n++;
    }
  }
  return { level: 10 * Math.log10(power / n), peaky: peaky / n };
}

/** How bursty a sound is: deviation of the power of 2 ms over its mean. */
export function burstiness(samples: Float32Array): number {
  const span = 88;
  const powers: number[] = [];
  for (let first = 0; first + span <= samples.length; first += span)
    powers.push(samples.subarray(first, first + span).reduce((s, v) => s + v * v, 0));
  const mean = powers.reduce((s, p) => s + p, 0) / powers.length;
  return Math.sqrt(powers.reduce((s, p) => s + (p - mean) ** 2, 0) / powers.length) / mean;
}
