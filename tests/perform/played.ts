import type { Seconds, Semitones } from '../../shared/math/units.ts';
import type { Instrument } from './instruments.ts';
import type { Part } from './score.ts';

/** A note as somebody played it. */
export interface PlayedNote {
  /** When the key went down (the bow was set, the stick fell). */
  readonly time: Seconds;
  readonly seconds: Seconds;
  readonly pitch: number;
  /** MIDI velocity, 1 to 127. */
  readonly velocity: number;
  readonly part: Part;
  readonly instrument: Instrument;
}

/** When the sustaining pedal is down. */
export interface PedalStroke {
  readonly down: Seconds;
  readonly up: Seconds;
}

export interface TrueBeat {
  readonly time: Seconds;
  /** Place in the bar, from 1. */
  readonly count: number;
}

export interface TruePhrase {
  readonly start: Seconds;
  readonly end: Seconds;
  readonly material: string;
  readonly like?: { readonly phrase: number; readonly semitones: Semitones };
}

/** A performance before it sounds: what was played, and what is true of it. */
export interface Performance {
  readonly seconds: Seconds;
  readonly notes: readonly PlayedNote[];
  readonly pedal: readonly PedalStroke[];
  readonly beats: readonly TrueBeat[];
  /** Beats at the other metrical level that a listener may choose: every second one, or twice as many. */
  readonly otherBeats: readonly Seconds[];
  readonly phrases: readonly TruePhrase[];
  readonly tonic: number;
  readonly mode: 'major' | 'minor' | 'unclear';
}
