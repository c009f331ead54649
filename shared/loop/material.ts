import type { NamedSlice } from '../cut/slice.ts';
import type { Beat, Onset } from '../hear/heard.ts';
import type { Seconds } from '../math/units.ts';
import type { Audio } from '../take/audio.ts';
import { type BeatClock, makeBeatClock } from '../time/beat-clock.ts';

/**
 * What a lane is made from. `sources` are parts of one performance on the take's timeline (the mix, its
 * stems, or both): same rate, same length, one set of decisions for all.
 */
export interface LaneMaterial {
  readonly sources: readonly Audio[];
  readonly slices: readonly NamedSlice[];
  readonly onsets: readonly Onset[];
  readonly beats: readonly Beat[];
}

/** Where an attack of the lane stands, in seconds from the loop's start, and where the grid would have it. */
export interface LaneLanding {
  readonly placement: string | null;
  readonly source: Seconds;
  readonly at: Seconds;
  readonly grid: Seconds;
}

/** How far one stretch of the source was stretched: `from` to `until` in the take, times `ratio`. */
export interface LaneRatio {
  readonly from: Seconds;
  readonly until: Seconds;
  readonly ratio: number;
}

/** A lane's audio before anyone looks at its seam. */
export interface LaneAudio {
  readonly outputs: Audio[];
  readonly landings: readonly LaneLanding[];
  readonly ratios: readonly LaneRatio[];
}

/** The players' clock, or null where fewer than two beats are known. */
export function clockOf(beats: readonly Beat[]): BeatClock | null {
  return beats.length < 2 ? null : makeBeatClock(beats.map((beat) => beat.time));
}
