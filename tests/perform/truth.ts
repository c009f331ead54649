import type { Cents, Hertz, Seconds } from '../../shared/math/units.ts';
import type { Place } from './place.ts';
import type { TrueBeat, TruePhrase } from './played.ts';

/** A note as it can be heard: `time` is its first audible sample. */
export interface TrueNote {
  readonly time: Seconds;
  readonly seconds: Seconds;
  readonly pitch: number;
  readonly velocity: number;
  readonly part: string;
  readonly instrument: string;
}

/** Sorts of recordings; the beat goals differ between them. */
export type Kind = 'piano' | 'trio' | 'extreme' | 'steady' | 'ensemble';

/** Everything that is true of one recording. Times in seconds from the start of the file. */
export interface Truth {
  readonly name: string;
  readonly kind: Kind;
  readonly seed: number;
  readonly sampled: boolean;
  readonly sampleRate: Hertz;
  readonly seconds: Seconds;
  readonly place: Place;
  readonly notes: readonly TrueNote[];
  /** Audible attacks: the first of each group of notes within 30 ms. */
  readonly onsets: readonly Seconds[];
  /** Those of the onsets that are one soft note (velocity 45 or less) with none within 80 ms. */
  readonly softAlone: readonly Seconds[];
  readonly beats: readonly TrueBeat[];
  /** The same pulse at the metrical level beside it. */
  readonly otherBeats: readonly Seconds[];
  readonly bars: readonly Seconds[];
  readonly phrases: readonly TruePhrase[];
  readonly tuning: { readonly a4: Hertz; readonly cents: Cents };
  readonly key: { readonly tonic: string; readonly mode: 'major' | 'minor' | 'unclear' };
}

const tonics = ['C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'] as const;

export function tonicName(pitchClass: number): string {
  return tonics[((pitchClass % 12) + 12) % 12] ?? 'C';
}

export const mergeWithin: Seconds = 0.03;
const aloneWithin: Seconds = 0.08;
const softest = 45;

/** The first of each group of attacks within 30 ms of it. */
export function mergeAttacks(times: readonly Seconds[]): Seconds[] {
  const merged: Seconds[] = [];
  for (const time of [...times].sort((a, b) => a - b)) {
    if (merged.length === 0 || time - (merged.at(-1) ?? 0) >= mergeWithin) merged.push(time);
  }
  return merged;
}

/** Soft notes that no other note comes close to. */
export function softAlone(notes: readonly TrueNote[]): Seconds[] {
  return notes
    .filter((note, i) => {
      const before = notes[i - 1];
      const after = notes[i + 1];
      const free =
        (!before || note.time - before.time > aloneWithin) &&
        (!after || after.time - note.time > aloneWithin);
      return free && note.velocity <= softest;
    })
    .map((note) => note.time);
}
