import type { Cents, Semitones } from '../../math/units.ts';
import type { Key, Tuning } from '../heard.ts';
import { tonics } from './key.ts';
import type { HeardNote } from './note.ts';

/** A shift in whole semitones and what is left in cents, -50 to 50. */
export interface PitchShift {
  readonly semitones: Semitones;
  readonly cents: Cents;
}

/** Where a pitch is brought: the note, and the shift that leads there. */
export interface NearestNote extends PitchShift {
  /** MIDI number, 69 being A4. */
  readonly note: number;
}

/** Degrees in semitones above the tonic: major, and natural minor, the notes of the key's own signature (common practice, no source). */
const degrees = { major: [0, 2, 4, 5, 7, 9, 11], minor: [0, 2, 3, 5, 7, 8, 10] } as const;

/** A tuning under this confidence is a guess, and is not followed. */
export const surestTuning = 0.2;

/** Pitch classes (0 is C) of a key; all twelve where it is unclear. */
export function notesOfKey(key: Key): readonly number[] {
  const tonic = tonics.indexOf(key.tonic);
  if (key.mode === 'unclear' || tonic < 0) return tonics.map((_, i) => i);
  return degrees[key.mode].map((degree) => (tonic + degree) % 12).sort((a, b) => a - b);
}

/** A shift of any size as semitones and cents, to a whole cent. */
export function asShift(shift: Semitones): PitchShift {
  // The sum with 0 makes a plain 0 of a negative one.
  const cents = Math.round(shift * 100) + 0;
  const semitones = Math.round(cents / 100) + 0;
  return { semitones, cents: cents - 100 * semitones };
}

/**
 * The key's note that lies nearest to what a slice plays (of two as near, the higher), in the take's own
 * tuning, so that the slice agrees with the rest of the take.
 */
export function nearestInKey(heard: HeardNote, key: Key, tuning: Tuning): NearestNote {
  const offset = tuning.confidence < surestTuning ? 0 : tuning.cents / 100;
  const pitch = heard.note + heard.cents / 100 - offset;
  const classes = notesOfKey(key);
  let note = Number.NEGATIVE_INFINITY;
  for (let n = Math.floor(pitch) - 6; n <= pitch + 7; n++)
    if (classes.includes(((n % 12) + 12) % 12) && Math.abs(n - pitch) <= Math.abs(note - pitch))
      note = n;
  return { note, ...asShift(note - pitch) };
}

/** The cents that bring a recording's tuning to A4 = 440 Hz (ISO 16); null where none is heard. */
export function toConcertPitch(tuning: Tuning): Cents | null {
  return tuning.confidence < surestTuning ? null : 0 - Math.round(tuning.cents);
}
