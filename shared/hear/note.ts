import type { Cents, Hertz, Seconds, Share } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';

/** The note that a short piece of sound plays: MIDI number (69 is A4), distance from it at 440 Hz, how sure. */
export interface HeardNote {
  readonly note: number;
  readonly cents: Cents;
  readonly confidence: Share;
}

const names = ['C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'];
const lowest: Hertz = 40;
const highest: Hertz = 2000;
/** A dip of the normalised difference below this is a period (de Cheveigne and Kawahara use 0.1 to 0.15). */
const threshold = 0.15;
const window: Seconds = 0.05;

/** Name and octave of a MIDI note, middle C (60) being C4. */
export function noteName(note: number): string {
  return `${names[((note % 12) + 12) % 12]}${Math.floor(note / 12) - 1}`;
}

/** Frequency in equal temperament (ISO 16 with A4 at 440 Hz unless another is given). */
export function noteFrequency(note: number, a4: Hertz = 440): Hertz {
  return a4 * 2 ** ((note - 69) / 12);
}

/**
 * The note of a slice that plays one: YIN (de Cheveigne and Kawahara, JASA 111(4), 2002) in windows after
 * the attack, and the median of those that agree on a period. Null for noise, chords and what is too
 * short: at least half of the windows must agree to a semitone.
 */
export function hearNote(audio: Audio): HeardNote | null {
  const { signal, rate } = thinned(audio);
  const size = Math.round(window * rate);
  const longest = Math.ceil(rate / lowest);
  // The attack itself has no period yet; a long tail tells nothing new.
  const from = Math.round(0.03 * rate);
  const until = Math.min(signal.length - size - longest, Math.round(0.8 * rate));
  const loudest = signal.reduce((max, v) => Math.max(max, Math.abs(v)), 0);
  const heard: { semitones: number; share: number }[] = [];
  let windows = 0;
  for (let at = from; at < until; at += size) {
    let level = 0;
    for (let i = at; i < at + size; i++) level = Math.max(level, Math.abs(signal[i]));
    if (level < loudest * 0.05 || level === 0) continue;
    windows++;
    const period = yinPeriod(signal, at, size, Math.floor(rate / highest), longest);
    if (period)
      heard.push({
        semitones: 69 + 12 * Math.log2(rate / period.lag / 440),
        share: 1 - period.dip,
      });
  }
  if (windows === 0 || heard.length === 0) return null;
  const sorted = heard.map((h) => h.semitones).sort((a, b) => a - b);
  const middle = sorted[sorted.length >> 1];
  const agreeing = heard.filter((h) => Math.abs(h.semitones - middle) < 0.5);
  if (agreeing.length * 2 < windows) return null;
  const mean = agreeing.reduce((sum, h) => sum + h.semitones, 0) / agreeing.length;
  const note = Math.round(mean);
  const clear = agreeing.reduce((sum, h) => sum + h.share, 0) / agreeing.length;
  return { note, cents: (mean - note) * 100, confidence: (clear * agreeing.length) / windows };
}

/** All channels summed, at a rate near 11 kHz: enough for periods, and a quarter of the work. */
function thinned(audio: Audio): { signal: Float64Array; rate: Hertz } {
  const step = Math.max(1, Math.floor(audio.sampleRate / 11000));
  const length = Math.floor(Math.min(lengthOf(audio), audio.sampleRate) / step);
  const signal = new Float64Array(length);
  for (const channel of audio.channels)
    for (let n = 0; n < length; n++)
      // A mean over the step is low-pass enough here: what folds back is weak, and not periodic.
      for (let k = 0; k < step; k++) signal[n] += channel[n * step + k] / step;
  return { signal, rate: audio.sampleRate / step };
}

/** Steps 2 to 5 of YIN: the first deep dip of the cumulative mean normalised difference, refined by a parabola. */
function yinPeriod(
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
