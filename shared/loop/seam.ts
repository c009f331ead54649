import { RealFft } from '../math/fft.ts';
import { median } from '../math/median.ts';
import type { Decibels, Samples } from '../math/units.ts';
import { hann } from '../math/window.ts';
import { type Audio, lengthOf } from '../take/audio.ts';

/** How the loop's end meets its start, each figure beside what is usual at attacks inside the loop. */
export interface SeamReport {
  /** Level after less level before, 60 ms each. */
  readonly levelStep: Decibels;
  readonly usualLevelStep: Decibels;
  /** The jump from the last sample to the first against the largest step within 5 ms beside it; above 1.5 it clicks. */
  readonly slopeStep: number;
  /** Mean difference of the spectra before and after. */
  readonly spectralChange: Decibels;
  readonly usualSpectralChange: Decibels;
  /** In words: "quiet, 8.4 dB step where 9.1 is usual", or "quiet, 0.4 dB step" with no attacks inside. */
  readonly verdict: string;
}

const floor = 1e-9;

/** One channel, the sum of all: the seam is judged on what is heard of both sides together. */
function folded(audio: Audio): Float32Array {
  const sum = new Float32Array(lengthOf(audio));
  for (const channel of audio.channels) for (let i = 0; i < sum.length; i++) sum[i] += channel[i];
  return sum;
}

function levelOf(signal: Float32Array, from: Samples, count: Samples): Decibels {
  const n = signal.length;
  let power = 0;
  for (let i = 0; i < count; i++) power += signal[(((from + i) % n) + n) % n] ** 2;
  return 10 * Math.log10(power / count + floor);
}

function spectrum(
  signal: Float32Array,
  from: Samples,
  fft: RealFft,
  window: Float64Array,
): Float64Array {
  const n = signal.length;
  const frame = Float64Array.from(window, (w, i) => w * signal[(((from + i) % n) + n) % n]);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  fft.forward(frame, re, im);
  return re.map((x, k) => 10 * Math.log10(x * x + im[k] * im[k] + 1e-6));
}

/**
 * Looks at the seam of a loop.
 *
 * @param landings positions of attacks inside the loop, which say what is usual
 */
export function inspectSeam(loop: Audio, landings: readonly Samples[]): SeamReport {
  const signal = folded(loop);
  const rate = loop.sampleRate;
  const n = signal.length;
  const span = Math.min(Math.round(0.06 * rate), n >> 1);
  const fft = new RealFft(2 ** Math.max(4, Math.floor(Math.log2(Math.max(span, 16)))));
  const window = hann(fft.size);
  const step = (at: Samples) => levelOf(signal, at, span) - levelOf(signal, at - span, span);
  const change = (at: Samples) => {
    const before = spectrum(signal, at - fft.size, fft, window);
    const after = spectrum(signal, at, fft, window);
    return before.reduce((sum, x, k) => sum + Math.abs(after[k] - x), 0) / before.length;
  };
  const inside = landings.filter((at) => at > span && at < n - span).slice(0, 64);
  const jump = n > 1 ? Math.abs(signal[0] - signal[n - 1]) : 0;
  let largest = floor;
  const beside = Math.min(Math.round(0.005 * rate), n - 1);
  for (let i = 1; i < beside; i++) {
    largest = Math.max(largest, Math.abs(signal[i] - signal[i - 1]));
    largest = Math.max(largest, Math.abs(signal[n - i] - signal[n - i - 1]));
  }
  const levelStep = step(0);
  const usualLevelStep = inside.length > 0 ? median(inside.map((at) => Math.abs(step(at)))) : 0;
  const slopeStep = jump < 1e-5 ? 0 : jump / largest;
  const spectralChange = change(0);
  const usualSpectralChange = inside.length > 0 ? median(inside.map(change)) : spectralChange;
  // A loop that begins with an attack steps up there as it does at each: the figure alone would alarm.
  const usual = inside.length > 0 ? ` where ${usualLevelStep.toFixed(1)} is usual` : '';
  const size = `${Math.abs(levelStep).toFixed(1)} dB step${usual}`;
  const verdict =
    slopeStep > 1.5
      ? `clicks, ${size}`
      : levelStep < -6 && -levelStep > usualLevelStep + 6
        ? `drops, ${size}`
        : levelStep > usualLevelStep + 12
          ? `starts out of silence, ${size}`
          : `quiet, ${size}`;
  return { levelStep, usualLevelStep, slopeStep, spectralChange, usualSpectralChange, verdict };
}
