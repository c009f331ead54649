import type { Beats, Semitones } from '../../shared/math/units.ts';

/** Who plays: the hands of a pianist count as parts too. */
export type Part = 'melody' | 'chords' | 'bass' | 'drums';

/** A note as it is written: in beats, before anyone has played it. */
export interface ScoreNote {
  readonly at: Beats;
  readonly length: Beats;
  /** MIDI note number; for drums the General MIDI percussion key. */
  readonly pitch: number;
  readonly part: Part;
  /** MIDI velocity above or below the part's own. */
  readonly accent: number;
  /** Place in a spread chord, from 0 at the bottom, and how many notes it has. */
  readonly spread?: { readonly index: number; readonly count: number };
  /** Played this many ornament steps before (negative) or after the written place. */
  readonly ornament?: number;
}

/** A phrase of the score. `material` names what it plays; `semitones` how far it lies above its first showing. */
export interface ScorePhrase {
  readonly start: Beats;
  readonly end: Beats;
  readonly material: string;
  readonly semitones: Semitones;
}

/** Phrases one after another, each up to where the next begins: its pickup sounds before the last bar of this one is over. */
export const upToTheNext = (phrases: readonly ScorePhrase[]): ScorePhrase[] =>
  phrases.map((phrase, i) => ({ ...phrase, end: phrases[i + 1]?.start ?? phrase.end }));

export interface Score {
  readonly beatsPerBar: number;
  /** The bar line before the first full bar: beats of the pickup lie before it. */
  readonly firstBar: Beats;
  readonly beats: Beats;
  readonly notes: readonly ScoreNote[];
  readonly phrases: readonly ScorePhrase[];
  readonly tonic: number;
  readonly mode: 'major' | 'minor';
}
