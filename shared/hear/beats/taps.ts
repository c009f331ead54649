import { median } from '../../math/median.ts';
import type { Seconds } from '../../math/units.ts';
import { LONGEST } from './path.ts';
import type { BeatState } from './state.ts';

/** A tap that comes after more than this many of the last interval goes on after a pause. */
const PAUSE = 1.6;
/** Taps that say at which level somebody counts. */
const ENOUGH = 3;
/** A level further away (natural log of the interval) is another one. */
const OTHER = 0.4;
/** Beats before the taps by whose interval it is told what level was shown. */
const SHOWN = 8;

const intervals = (times: readonly Seconds[]) => times.slice(1).map((time, i) => time - times[i]);

/**
 * What somebody says who taps along: no beat lies between two taps in a row, and after a few of them
 * the level around is theirs. Where another level was shown before, that is heard again too.
 *
 * @param before the beats that were shown
 * @param set the same with a beat at the tap
 */
export function tapAlong(before: BeatState, set: BeatState, tap: Seconds): BeatState {
  const run = before.taps;
  const last = run[run.length - 1];
  const usual = run.length > 1 ? last - run[run.length - 2] : LONGEST / PAUSE;
  if (last === undefined || tap <= last || tap - last > Math.min(LONGEST, PAUSE * usual))
    return { ...set, taps: [tap] };
  const taps = [...run, tap];
  const pinned = new Set(set.pinned.map((one) => one.time));
  const tapped: BeatState = {
    ...set,
    taps,
    times: set.times.filter((time) => time <= last || time >= tap || pinned.has(time)),
    struck: [...set.struck, { at: (last + tap) / 2, from: last, until: tap }],
    confirmed: Math.min(set.confirmed, last),
  };
  if (taps.length < ENOUGH) return tapped;
  const own = Math.log(median(intervals(taps)));
  const shown = before.times.filter((time) => time <= taps[0]).slice(-SHOWN);
  if (shown.length < 2 || Math.abs(Math.log(median(intervals(shown))) - own) < OTHER) return tapped;
  return { ...tapped, level: own, confirmed: -Infinity, likely: [] };
}
