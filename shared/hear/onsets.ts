import { RealFft } from '../math/fft.ts';
import type { Progress } from '../math/progress.ts';
import { hann } from '../math/window.ts';
import type { Audio } from '../take/audio.ts';
import type { Onset } from './heard.ts';
import { mixForHearing } from './onset-mix.ts';

const HOP_SECONDS = 0.005;

/**
 * Every audible attack of a recording, in order. Attacks within 30 ms count as one. Log-filtered
 * spectral flux with a maximum filter against vibrato (Boeck and Widmer, DAFx-13), then the start of
 * the rise on the waveform.
 *
 * @param audio any number of channels, any rate, any gain
 * @returns onsets in rising order; none in silence
 */
export function hearOnsets(audio: Audio, progress?: Progress): Onset[] {
  const mix = mixForHearing(audio);
  const rate = audio.sampleRate;
  let peak = 0;
  for (let i = 0; i < mix.length; i++) peak = Math.max(peak, Math.abs(mix[i]));
  if (!(peak > 0)) return [];
  const flux = spectralFlux(mix, rate, 1 / peak, progress);
  const times = pickPeaks(flux).map((frame) => refine(mix, rate, frame * HOP_SECONDS));
  const strengths = pickPeaks(flux).map((frame) => flux[frame]);
  const top = Math.max(...strengths, 1e-9);
  const onsets: Onset[] = [];
  times.forEach((time, i) => {
    const last = onsets[onsets.length - 1];
    if (last && time - last.time < 0.03) return;
    onsets.push({ time, strength: Math.sqrt(strengths[i] / top) });
  });
  return onsets;
}

function spectralFlux(
  mix: Float32Array,
  rate: number,
  gain: number,
  progress?: Progress,
): Float64Array {
  const size = 2 ** Math.round(Math.log2(rate * 0.0464));
  const fft = new RealFft(size);
  const window = hann(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const frame = new Float64Array(size);
  const edges: number[] = [];
  for (let f = 30; f < Math.min(17000, rate / 2); f *= 2 ** (1 / 24)) {
    const bin = Math.round((f * size) / rate);
    if (bin !== edges[edges.length - 1]) edges.push(bin);
  }
  const bands = edges.length - 1;
  const frames = Math.floor(mix.length / rate / HOP_SECONDS) + 1;
  const lag = 2;
  const ring = Array.from({ length: lag + 1 }, () => new Float64Array(bands));
  const flux = new Float64Array(frames);
  const scale = (gain * 4) / size;
  for (let n = 0; n < frames; n++) {
    if (n % 1000 === 0) progress?.(n / frames, 'onsets');
    const from = Math.round(n * HOP_SECONDS * rate) - size / 2;
    for (let i = 0; i < size; i++) {
      const at = from + i;
      frame[i] = at >= 0 && at < mix.length ? mix[at] * window[i] : 0;
    }
    fft.forward(frame, re, im);
    const now = ring[n % (lag + 1)];
    const before = ring[(n + 1) % (lag + 1)];
    for (let b = 0; b < bands; b++) {
      let sum = 0;
      for (let k = edges[b]; k < edges[b + 1]; k++) sum += Math.hypot(re[k], im[k]);
      now[b] = Math.log10(1 + 100 * scale * sum);
    }
    let total = 0;
    for (let b = 0; b < bands; b++) {
      const was = Math.max(
        before[Math.max(0, b - 1)],
        before[b],
        before[Math.min(bands - 1, b + 1)],
      );
      total += Math.max(0, now[b] - was);
    }
    flux[n] = total / bands;
  }
  return flux;
}

function pickPeaks(flux: Float64Array): number[] {
  const peaks: number[] = [];
  for (let n = 0; n < flux.length; n++) {
    let highest = 0;
    for (let k = Math.max(0, n - 2); k <= Math.min(flux.length - 1, n + 3); k++)
      highest = Math.max(highest, flux[k]);
    if (flux[n] < highest || (n > 0 && flux[n - 1] === highest)) continue;
    let sum = 0;
    const from = Math.max(0, n - 20);
    const to = Math.min(flux.length, n + 10);
    for (let k = from; k < to; k++) sum += flux[k];
    if (flux[n] > 0.012 + (1.1 * sum) / (to - from)) peaks.push(n);
  }
  return peaks;
}

/** The start of the steepest rise of short-time energy (1 ms steps) near `time`. */
function refine(mix: Float32Array, rate: number, time: number): number {
  const step = Math.max(1, Math.round(rate / 1000));
  const first = Math.round(time * rate) - 30 * step;
  const steps = 50;
  const level = new Float64Array(steps);
  for (let s = 0; s < steps; s++) {
    let sum = 1e-12;
    for (let i = 0; i < step; i++) {
      const at = first + s * step + i;
      const d = at > 0 && at < mix.length ? mix[at] - mix[at - 1] : 0;
      sum += d * d;
    }
    level[s] = Math.log(sum);
  }
  let best = 0;
  let steepest = -Infinity;
  for (let s = 5; s < steps - 3; s++) {
    const before = (level[s - 1] + level[s - 2] + level[s - 3] + level[s - 4] + level[s - 5]) / 5;
    const after = (level[s] + level[s + 1] + level[s + 2]) / 3;
    if (after - before > steepest) {
      steepest = after - before;
      best = s;
    }
  }
  return Math.max(0, first + best * step) / rate;
}
