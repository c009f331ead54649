import type { Seconds } from '../../math/units.ts';
import { type Memory, NO_MEMORY } from './memory.ts';
import { TUNING, type Tuning } from './tuning.ts';

/** A beat that must lie where it is; `by` says who put it there. */
export interface PinnedBeat {
  readonly time: Seconds;
  readonly by: 'heard' | 'tapped' | 'moved';
}

/** A beat struck out: none lies anywhere from `from` to `until` unless the user sets one. */
export interface StruckBeat {
  readonly at: Seconds;
  readonly from: Seconds;
  readonly until: Seconds;
}

/** The last beat that the user set or struck out: how it lay to the nearest one that was shown. */
export interface LastFix {
  readonly kind: 'struck' | 'near' | 'half' | 'far';
  readonly at: Seconds;
  /** What was shown before it. */
  readonly shown: readonly Seconds[];
}

/** Beats inferred so far, and all that the user's fixes have said. Plain data, never changed in place. */
export interface BeatState {
  readonly times: readonly Seconds[];
  /** Beats that the user set or named, in rising order. */
  readonly pinned: readonly PinnedBeat[];
  readonly struck: readonly StruckBeat[];
  /** How often a beat was set right after a struck one, sooner than half way to the next. */
  readonly misplaced: number;
  /** Where bars start. */
  readonly ones: readonly Seconds[];
  /** Bars start so many beats later than they sound like, from each place on. */
  readonly late: readonly { readonly from: Seconds; readonly beats: number }[];
  /** Beats tapped one after the other up to the last fix. */
  readonly taps: readonly Seconds[];
  /** Beats up to here are confirmed: the user passed over them on the way to the last fix. */
  readonly confirmed: Seconds;
  /** Beats further on that once were confirmed, or that a change of level made. */
  readonly likely: readonly Seconds[];
  /** Natural log of the interval that the user chose by a change of level. */
  readonly level?: number;
  /** Nothing before here teaches anything. */
  readonly freeFrom: Seconds;
  readonly memory: Memory;
  /** Absent where the last fix did not correct one beat. */
  readonly lastFix?: LastFix;
  /** Constants for playing as steady as this. */
  readonly tuning: Tuning;
}

export const NOTHING_KNOWN: BeatState = {
  times: [],
  pinned: [],
  struck: [],
  misplaced: 0,
  ones: [],
  late: [],
  taps: [],
  confirmed: -Infinity,
  likely: [],
  freeFrom: -Infinity,
  memory: NO_MEMORY,
  tuning: TUNING,
};

/** Index of the beat nearest to `time`, -1 where there are none. */
export function nearestBeat(times: readonly Seconds[], time: Seconds): number {
  let near = -1;
  for (let i = 0; i < times.length; i++)
    if (near < 0 || Math.abs(times[i] - time) < Math.abs(times[near] - time)) near = i;
  return near;
}

/** Length of the beat around `time` by the beats shown. */
export function intervalAt(times: readonly Seconds[], time: Seconds): Seconds {
  if (times.length < 2) return 0.6;
  let i = 1;
  while (i < times.length - 1 && times[i] <= time) i++;
  return times[i] - times[i - 1];
}
