import type { Cents, Hertz, Seconds, Share } from '../../math/units.ts';
import { type Audio, lengthOf } from '../../take/audio.ts';
import { highestPitch, isOneNote, lowestPitch, thinned, yinPeriod } from './yin.ts';

/** The note that a short piece of sound plays: MIDI number (69 is A4), distance from it at 440 Hz, how sure. */
export interface HeardNote {
  readonly note: number;
  readonly cents: Cents;
  readonly confidence: Share;
}

const names = ['C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'];
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
  const { signal, rate } = thinned(audio, 0, Math.min(lengthOf(audio), audio.sampleRate));
  const size = Math.round(window * rate);
  const longest = Math.ceil(rate / lowestPitch);
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
    const period = yinPeriod(signal, at, size, Math.floor(rate / highestPitch), longest);
    if (period && isOneNote(signal, rate, at, size, rate / period.lag))
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
