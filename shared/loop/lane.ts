import type { Beats, Bpm, Cents, Decibels, Percent, Seconds, Semitones } from '../math/units.ts';
import type { GridDivision } from '../time/grid.ts';

/** A slice set on the lane: its landing stands at `at`, counted in beats from the lane's start. */
export interface Placement {
  readonly id: string;
  readonly slice: string;
  readonly at: Beats;
  /** How long it may sound from its landing; null: as long as the slice is. */
  readonly length: Beats | null;
  readonly semitones: Semitones;
  readonly cents: Cents;
  /** Whether the resonances of voice and body stay where pitch is moved; they move along where left out. */
  readonly formants?: 'kept' | 'moved';
  readonly level: Decibels;
  readonly direction: 'forwards' | 'backwards';
  /** Whether it rings till the next placement's attack or rings out over it. */
  readonly rings: 'next' | 'out';
}

/**
 * What a lane plays: `straight` is a stretch of the take in its own order, from beat to beat; `flip` is
 * slices in a new order.
 */
export type LaneSource =
  | { readonly kind: 'straight'; readonly from: Seconds; readonly until: Seconds }
  | { readonly kind: 'flip'; readonly placements: readonly Placement[] };

/** A loop being made. Its length is `round(bars * beatsPerBar * 60 / bpm * sampleRate)` samples. */
export interface Lane {
  readonly id: string;
  readonly name: string;
  readonly bars: number;
  readonly beatsPerBar: number;
  /** The note value that is counted as a beat: 4 in 4/4, 8 in 6/8. */
  readonly beatUnit: number;
  readonly bpm: Bpm;
  readonly steady: Percent;
  readonly tighten: Percent;
  readonly grid: GridDivision;
  readonly swing: Percent;
  readonly source: LaneSource;
}
