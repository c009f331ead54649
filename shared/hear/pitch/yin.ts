import type { Hertz, Samples } from '../../math/units.ts';
import { type Audio, lengthOf } from '../../take/audio.ts';

/** A dip of the normalised difference below this is a period (de Cheveigne and Kawahara use 0.1 to 0.15). */
const threshold = 0.15;

/** Pitches are heard between these; above, the attack's noise is all that repeats. */
export const lowestPitch: Hertz = 40;
export const highestPitch: Hertz = 2000;

/** All channels summed, at a rate near 11 kHz: enough for periods, and a quarter of the work. */
export function thinned(
  audio: Audio,
  from: Samples = 0,
  until: Samples = lengthOf(audio),
): { signal: Float64Array; rate: Hertz } {
  const step = Math.max(1, Math.floor(audio.sampleRate / 11000));
  const length = Math.max(0, Math.floor((until - from) / step));
  const signal = new Float64Array(length);
  for (const channel of audio.channels)
    for (let n = 0; n < length; n++)
      // A mean over the step is low-pass enough here: what folds back is weak, and not periodic.
      for (let k = 0; k < step; k++) signal[n] += channel[from + n * step + k] / step;
  return { signal, rate: audio.sampleRate / step };
}

/**
 * Steps 2 to 5 of YIN (JASA 111(4), 2002): the first deep dip of the cumulative mean normalised difference, refined by a parabola.
 * Null where nothing repeats.
 */
export function yinPeriod(
  signal: Float64Array,
  at: number,
  size: number,
  shortest: number,
  longest: number,
): { lag: number; dip: number } | null {
  const d = new Float64Array(longest + 1);
  let running = 0;
  d[0] = 1;
  for (let lag = 1; lag <= longest; lag++) {
    let sum = 0;
    for (let i = at; i < at + size; i++) {
      const difference = signal[i] - signal[i + lag];
      sum += difference * difference;
    }
    running += sum;
    d[lag] = running === 0 ? 1 : (sum * lag) / running;
  }
  for (let lag = shortest; lag < longest; lag++) {
    if (d[lag] >= threshold) continue;
    while (lag + 1 < longest && d[lag + 1] < d[lag]) lag++;
    return { lag: refined(d, lag), dip: d[lag] };
  }
  return null;
}

/** A period to a fraction of a sample: a parabola through the dip of as many periods as are known. */
function refined(d: Float64Array, dip: number): number {
  let period = parabola(d, dip);
  for (let n = 2; n * period < d.length - 2; n++) {
    let at = Math.round(n * period);
    while (at + 1 < d.length - 1 && d[at + 1] < d[at]) at++;
    while (d[at - 1] < d[at]) at--;
    // Where the dip is shallow or has moved, the note is no longer the same.
    if (d[at] > 2 * threshold || Math.abs(at - n * period) > period / 4) break;
    period = parabola(d, at) / n;
  }
  return period;
}

function parabola(d: Float64Array, at: number): number {
  const [a, b, c] = [d[at - 1], d[at], d[at + 1]];
  const bend = a - 2 * b + c;
  return bend > 0 ? at + (a - c) / (2 * bend) : at;
}

/** Periods looked at to tell harmonics apart: a Hann window of five has each in bins of its own. */
const periods = 5;
/** A harmonic this far below the strongest (30 dB) is not there. */
const faint = 0.03;

/**
 * Whether a pitch is a note of its own, not the common period of a chord: two notes a fourth or a third
 * apart repeat together at a pitch far below both, which none of them sounds. Such a pitch has no first
 * harmonic, and of the next ones only multiples; a low note that has lost its first has 2, 3 and 5 or 7.
 */
export function isOneNote(
  signal: Float64Array,
  rate: Hertz,
  at: Samples,
  size: Samples,
  hertz: Hertz,
): boolean {
  const length = Math.min(signal.length, Math.max(size, Math.ceil((periods * rate) / hertz)));
  const start = Math.max(
    0,
    Math.min(signal.length - length, Math.round(at + size / 2 - length / 2)),
  );
  const most = Math.min(8, Math.floor((0.45 * rate) / hertz));
  const levels = Array.from({ length: most }, (_, k) =>
    harmonicLevel(signal, start, length, (2 * Math.PI * hertz * (k + 1)) / rate),
  );
  const floor = Math.max(...levels) * faint;
  const there = (k: number) => (levels[k - 1] ?? 0) >= floor;
  return there(1) || (there(2) && there(3) && (there(5) || there(7)));
}

/** Magnitude of one frequency (radians a sample) under a Hann window. */
function harmonicLevel(
  signal: Float64Array,
  start: Samples,
  length: Samples,
  angle: number,
): number {
  // Both turning pointers are carried on by multiplication, which is exact enough over a few thousand samples.
  const [stepRe, stepIm] = [Math.cos(angle), Math.sin(angle)];
  const [slowRe, slowIm] = [Math.cos((2 * Math.PI) / length), Math.sin((2 * Math.PI) / length)];
  let [turnRe, turnIm, windowRe, windowIm] = [1, 0, 1, 0];
  let re = 0;
  let im = 0;
  for (let i = 0; i < length; i++) {
    const v = signal[start + i] * (0.5 - 0.5 * windowRe);
    re += v * turnRe;
    im += v * turnIm;
    [turnRe, turnIm] = [turnRe * stepRe - turnIm * stepIm, turnRe * stepIm + turnIm * stepRe];
    [windowRe, windowIm] = [
      windowRe * slowRe - windowIm * slowIm,
      windowRe * slowIm + windowIm * slowRe,
    ];
  }
  return Math.hypot(re, im);
}
