import type { Seconds, Share } from '../../math/units.ts';
import { indexFrom } from './search.ts';
import { STEADY, TUNING, type Tuning } from './tuning.ts';

/** Beats over which the tempo is compared. */
const LAG = 4;
/** Log ratio of one stretch to the next, in four of five places no more, for steady and for free playing. */
const STEADY_RATIO = 0.06;
const FREE_RATIO = 0.1;

/**
 * How steady the playing is: 1 where four beats last as long as the four before them almost
 * everywhere, 0 where the tempo moves. Single beats say little: steady players are off by some
 * hundredths of a second, which at a fast tempo is as much as free players move.
 */
export function steadiness(beats: readonly Seconds[]): Share {
  const moves: number[] = [];
  for (let i = LAG; i + LAG < beats.length; i++) {
    const before = beats[i] - beats[i - LAG];
    moves.push(Math.abs(Math.log((beats[i + LAG] - beats[i]) / before)));
  }
  if (moves.length < 2 * LAG) return 0;
  moves.sort((a, b) => a - b);
  const most = moves[Math.floor(moves.length * 0.8)];
  return Math.max(0, Math.min(1, (FREE_RATIO - most) / (FREE_RATIO - STEADY_RATIO)));
}

/** An onset this near to a beat strikes it. */
const ON_BEAT: Seconds = 0.04;

/** Share of beats that some onset strikes. */
export function struckShare(onsets: Float64Array, beats: readonly Seconds[]): Share {
  const struck = beats.filter((beat) => {
    const i = indexFrom(onsets, beat - ON_BEAT);
    return i < onsets.length && onsets[i] <= beat + ON_BEAT;
  });
  return struck.length / Math.max(1, beats.length);
}

/** Constants for playing of some steadiness. */
export function tuningFor(steady: Share): Tuning {
  if (steady === 0) return TUNING;
  const mixed = { ...TUNING };
  for (const key of Object.keys(STEADY) as (keyof typeof STEADY)[])
    mixed[key] = TUNING[key] + steady * (STEADY[key] - TUNING[key]);
  return mixed;
}
