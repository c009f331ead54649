import { median } from '../../math/median.ts';
import type { Cents, Hertz, Seconds, Semitones } from '../../math/units.ts';
import { type Audio, lengthOf } from '../../take/audio.ts';
import { highestPitch, isOneNote, lowestPitch, thinned, yinPeriod } from './yin.ts';

/** What one moment sounds: semitones on the MIDI scale with A4 (69) at 440 Hz; null where no single pitch is. */
export interface PitchMoment {
  readonly time: Seconds;
  readonly pitch: Semitones | null;
}

/** A note as it was played: its number in the tuning it is measured against, and how far it stands from it. */
export interface PlayedNote {
  readonly start: Seconds;
  readonly end: Seconds;
  readonly note: number;
  readonly cents: Cents;
}

const window: Seconds = 0.05;
/** Softer than this share of the loudest moment is room and bleed, no note. */
const belowLoudest = 0.02;
/** A note may swing by so much (vibrato is a semitone and more from end to end) before it is another. */
const apart: Semitones = 0.7;
const shortest: Seconds = 0.08;
/** A tuner must be sure: two notes at once often leave a shallow dip between their periods. */
const clearest = 0.08;

/**
 * The pitch of a stem over time by YIN in windows of 50 ms; `from` and `until` in seconds choose a stretch.
 * Chords, noise and silence have none.
 */
export function trackPitch(
  audio: Audio,
  options: { readonly from?: Seconds; readonly until?: Seconds; readonly hop?: Seconds } = {},
): PitchMoment[] {
  const { from = 0, until = lengthOf(audio) / audio.sampleRate, hop = 0.025 } = options;
  const first = Math.max(0, Math.round(from * audio.sampleRate));
  const last = Math.min(lengthOf(audio), Math.round(until * audio.sampleRate));
  const { signal, rate } = thinned(audio, first, last);
  const size = Math.round(window * rate);
  const longest = Math.ceil(rate / lowestPitch);
  const shortestLag = Math.floor(rate / highestPitch);
  const levels: number[] = [];
  const starts: number[] = [];
  for (let at = 0; at + size + longest <= signal.length; at += hop * rate) {
    const start = Math.round(at);
    let level = 0;
    for (let i = start; i < start + size; i++) level = Math.max(level, Math.abs(signal[i]));
    starts.push(start);
    levels.push(level);
  }
  const floor = levels.reduce((a, b) => Math.max(a, b), 0) * belowLoudest;
  return starts.map((start, k) => {
    // Window and longest period together: the middle of what was looked at.
    const time = from + (start + size / 2 + longest / 4) / rate;
    if (levels[k] === 0 || levels[k] < floor) return { time, pitch: null };
    const period = yinPeriod(signal, start, size, shortestLag, longest);
    if (!period || period.dip >= clearest) return { time, pitch: null };
    const hertz = rate / period.lag;
    const alone = isOneNote(signal, rate, start, size, hertz);
    return { time, pitch: alone ? 69 + 12 * Math.log2(hertz / 440) : null };
  });
}

/**
 * Moments gathered to notes against a tuning: neighbours that stay within 0.7 semitones of their median,
 * for 80 ms or more. A note's cents are its moments' median, so that vibrato counts by its middle.
 */
export function playedNotes(moments: readonly PitchMoment[], a4: Hertz = 440): PlayedNote[] {
  const offset = 12 * Math.log2(a4 / 440);
  const hop = moments.length > 1 ? moments[1].time - moments[0].time : 0;
  const notes: PlayedNote[] = [];
  let run: { time: Seconds; pitch: Semitones }[] = [];
  const close = () => {
    const [first] = run;
    const last = run.at(-1);
    const start = (first?.time ?? 0) - hop / 2;
    const end = (last?.time ?? 0) + hop / 2;
    if (first && last && end - start >= shortest) {
      const pitch = median(run.map((moment) => moment.pitch)) - offset;
      const note = Math.round(pitch);
      notes.push({ start, end, note, cents: (pitch - note) * 100 });
    }
    run = [];
  };
  for (const { time, pitch } of moments) {
    if (pitch === null) close();
    else {
      if (run.length > 0 && Math.abs(pitch - median(run.slice(-8).map((m) => m.pitch))) > apart)
        close();
      run.push({ time, pitch });
    }
  }
  close();
  return notes;
}

/** Passing notes are no ground to call anybody out of tune. */
const heldLong: Seconds = 0.15;

/** What a tuner says of many notes. */
export interface TuningSummary {
  /** Median of the notes' cents, each weighted by its length. */
  readonly usual: Cents;
  /** Half of the played time lies this near to `usual`. */
  readonly spread: Cents;
  /** The note that stands farthest from the tuning, of those that last long enough to be heard out of tune. */
  readonly worst: PlayedNote;
}

/** Null where there is no note. */
export function summariseTuning(notes: readonly PlayedNote[]): TuningSummary | null {
  if (notes.length === 0) return null;
  const length = (note: PlayedNote) => note.end - note.start;
  const weighted = (value: (note: PlayedNote) => number) =>
    weightedMedian(notes.map((note) => ({ value: value(note), weight: length(note) })));
  const usual = weighted((note) => note.cents);
  const spread = weighted((note) => Math.abs(note.cents - usual));
  const held = notes.filter((note) => length(note) >= heldLong);
  const worst = (held.length > 0 ? held : notes).reduce((far, note) =>
    Math.abs(note.cents) > Math.abs(far.cents) ? note : far,
  );
  return { usual, spread, worst };
}

function weightedMedian(
  items: readonly { readonly value: number; readonly weight: number }[],
): number {
  const sorted = [...items].sort((a, b) => a.value - b.value);
  const half = sorted.reduce((sum, item) => sum + item.weight, 0) / 2;
  let sum = 0;
  for (const { value, weight } of sorted) {
    sum += weight;
    if (sum >= half) return value;
  }
  return sorted.at(-1)?.value ?? 0;
}
