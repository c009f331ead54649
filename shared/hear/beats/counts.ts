import type { Seconds } from '../../math/units.ts';
import { type BarOdds, barOdds, countBars } from './bars.ts';
import type { BeatEvidence } from './evidence.ts';
import type { BeatState } from './state.ts';
import { steadiness } from './steady.ts';

/** The place in its bar of each beat of a state, from 1. */
export function countsOf(evidence: BeatEvidence, state: BeatState): number[] {
  const { times, ones, late } = state;
  const steady = steadiness(times);
  return countBars(times, ones, lateBars(times, barOdds(evidence, times, steady), late), steady);
}

/** What speaks for a bar at each beat, later by as many beats as the user said. */
function lateBars(times: readonly Seconds[], odds: BarOdds, late: BeatState['late']): BarOdds {
  if (late.length === 0) return odds;
  const moved = (of: Float64Array) =>
    of.map((_, i) => {
      const by = late.reduce((sum, { from, beats }) => sum + (times[i] >= from ? beats : 0), 0);
      return of[i - by] ?? 0;
    });
  return { first: moved(odds.first), middle: moved(odds.middle) };
}
