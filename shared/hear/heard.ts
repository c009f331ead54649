import type { Cents, Decibels, Hertz, Seconds, Semitones, Share } from '../math/units.ts';

/** A moment at which a sound starts: its first audible sample, and how strongly it stands out (0 to 1). */
export interface Onset {
  readonly time: Seconds;
  readonly strength: Share;
}

/** Who says that a beat is there. */
export type BeatSource = 'heard' | 'tapped' | 'moved';

/** A counted pulse of the take. `count` is its place in the bar, from 1. */
export interface Beat {
  readonly time: Seconds;
  readonly confidence: Share;
  readonly count: number;
  readonly by: BeatSource;
}

/**
 * What the user corrected, in the order in which it was done. `beat`: a beat is exactly there;
 * `notBeat`: the beat shown nearest to there (within half a beat) is none; `one`: the bar starts at
 * the beat there; `level`: twice or half as many beats from there on (the whole take without `from`), and
 * of half as many the beat at `keep` stays; `shift`: from there on, or all through, every beat moves on by
 * half a beat, or every bar starts a beat later; `free`: from there on nothing before teaches anything.
 */
export type Fix =
  | { readonly beat: Seconds; readonly by?: 'tapped' | 'moved' }
  | { readonly notBeat: Seconds }
  | { readonly one: Seconds }
  | { readonly level: 'double' | 'half'; readonly from?: Seconds; readonly keep?: Seconds }
  | { readonly shift: 'half' | 'bar'; readonly from?: Seconds }
  | { readonly free: Seconds };

/** A stretch of playing between two breaths; `energy` is its mean level in LUFS. */
export interface Phrase {
  readonly start: Seconds;
  readonly end: Seconds;
  readonly energy: Decibels;
  /** The earlier phrase whose material this one repeats, and how many semitones higher. */
  readonly like?: { readonly phrase: number; readonly semitones: Semitones; readonly score: Share };
}

export interface Tuning {
  readonly a4: Hertz;
  /** Distance of `a4` from 440 Hz. */
  readonly cents: Cents;
  readonly confidence: Share;
  /** How far the tuning rises from the take's start to its end, by a straight line. */
  readonly drift?: Cents;
}

export interface Key {
  /** Spelt as the trade does: C, Db, D, Eb, E, F, F#, G, Ab, A, Bb, B; or "unclear". */
  readonly tonic: string;
  readonly mode: 'major' | 'minor' | 'unclear';
  readonly confidence: Share;
}

/** ITU-R BS.1770 integrated loudness (LUFS), EBU Tech 3342 range (LU) and true peak (dBTP). */
export interface Loudness {
  readonly integrated: Decibels;
  readonly range: Decibels;
  readonly truePeak: Decibels;
}
