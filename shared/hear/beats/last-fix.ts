import type { Seconds } from '../../math/units.ts';
import type { Fix } from '../heard.ts';
import { type BeatState, intervalAt, type LastFix, nearestBeat } from './state.ts';

/** A beat set this close to one that is shown is that one. */
export const SHOWN: Seconds = 0.04;
/** A beat set this far from where one was shown (as a share of a beat) has another phase. */
const OTHER_PHASE = 0.3;
/** One set this near is another onset of the same chord. */
const SAME_CHORD: Seconds = 0.09;

/** How a fix lies to what was shown; nothing where no single beat was wrong. */
export function lastFixBy({ times }: BeatState, fix: Fix): LastFix | undefined {
  if ('notBeat' in fix) return { kind: 'struck', at: fix.notBeat, shown: times };
  if (!('beat' in fix)) return undefined;
  const near = times[nearestBeat(times, fix.beat)] ?? -Infinity;
  const apart = Math.abs(near - fix.beat);
  if (apart < SHOWN) return undefined;
  const far = apart / intervalAt(times, fix.beat) > OTHER_PHASE ? 'half' : 'far';
  return { kind: apart < SAME_CHORD ? 'near' : far, at: fix.beat, shown: times };
}

/** An interval as many times as long as the mean of the last few may have a beat missing in it. */
const ONE_MISSING = 2;
const FEW = 4;

/**
 * Confirmed beats with the one that was just set behind them: it teaches, too, as long as no beat can be missing
 * between.
 */
export function withSetBeat(locked: Seconds[], { pinned, lastFix }: BeatState): Seconds[] {
  const n = locked.length;
  const last = locked[n - 1];
  const set = pinned.find((one) => one.time > last)?.time;
  if (set === undefined || set !== lastFix?.at) return locked;
  const few = Math.min(FEW, n - 1);
  const usual = few > 0 ? (last - locked[n - 1 - few]) / few : Infinity;
  return set - last < ONE_MISSING * usual ? [...locked, set] : locked;
}

/**
 * What it says to strike out the second beat of a take before anything else was fixed: the take is counted at
 * another level than is shown, mostly in beats twice as long.
 *
 * @returns natural log of the interval from the first to the third beat shown; undefined after any other fix
 */
export function levelStruck(
  { pinned, lastFix }: BeatState,
  locked: readonly Seconds[],
): number | undefined {
  if (lastFix?.kind !== 'struck' || locked.length !== 1 || pinned.length > 0) return undefined;
  const { shown, at } = lastFix;
  return nearestBeat(shown, at) === 1 && shown.length > 2
    ? Math.log(shown[2] - shown[0])
    : undefined;
}
