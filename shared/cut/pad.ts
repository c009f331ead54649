import type { Cents, Decibels, Semitones } from '../math/units.ts';

/** How a pad's sound lives: to the slice's end, as long as it is pressed, or round and round while pressed. */
export type PadPlay = 'through' | 'held' | 'repeats';

/**
 * A place to play a slice from. `row` 0 to 3 from the top, `key` the place in the row; pads of one
 * choke group cut each other off.
 */
export interface Pad {
  readonly row: number;
  readonly key: number;
  readonly slice: string;
  readonly semitones: Semitones;
  readonly cents: Cents;
  /** Whether the resonances of voice and body stay where pitch is moved; they move along where left out. */
  readonly formants?: 'kept' | 'moved';
  readonly level: Decibels;
  readonly direction: 'forwards' | 'backwards';
  readonly play: PadPlay;
  readonly choke: string | null;
  /** MIDI note that plays this pad, when one was learnt. */
  readonly note: number | null;
}
