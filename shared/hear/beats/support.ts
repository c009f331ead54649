import type { Seconds } from '../../math/units.ts';
import { CONTEXT } from './context.ts';

/** Neighbours on either side of whose odds a second look takes note. */
const NEIGHBOURS = 6;
/** Intervals at which other beats are looked for, as steps of natural log from the shortest. */
const LAGS = 16;
const SHORTEST: Seconds = 0.22;
const LONGEST: Seconds = 2;
const LAG_STEP = Math.log(LONGEST / SHORTEST) / (LAGS - 1);
/** An onset this far (natural log) from an interval counts for it no more. */
const WIDE = 0.14;
/** One interval and two of it away, after and before. */
const SIDES = 4;

/** Numbers that describe an onset at a second look. */
export const SUPPORTED = CONTEXT + 2 * NEIGHBOURS + (SIDES + 1) * LAGS + 1;

/**
 * What a second look at each onset sees: its context, how like a beat it and its neighbours were at
 * first sight, and how like beats the onsets one and two intervals before and after it, for intervals
 * from `SHORTEST` to `LONGEST`: a beat stands in a row of beats.
 *
 * @param contexts `CONTEXT` numbers an onset
 * @param odds log odds of each onset to carry a beat at first sight
 * @returns `SUPPORTED` numbers an onset
 */
export function supportsOf(
  times: Float64Array,
  contexts: Float32Array,
  odds: ArrayLike<number>,
): Float32Array {
  const n = times.length;
  const out = new Float32Array(n * SUPPORTED);
  const likely = Float64Array.from(odds, (one) => 1 / (1 + Math.exp(-one)));
  for (let i = 0; i < n; i++) {
    let at = i * SUPPORTED;
    out.set(contexts.subarray(i * CONTEXT, (i + 1) * CONTEXT), at);
    at += CONTEXT;
    for (let d = 1; d <= NEIGHBOURS; d++, at++) {
      out[at] = i + d < n ? likely[i + d] : 0;
      out[at + NEIGHBOURS] = i >= d ? likely[i - d] : 0;
    }
    at += NEIGHBOURS;
    for (let k = i + 1; k < n; k++) if (!supports(times[k] - times[i], likely[k], out, at)) break;
    for (let k = i - 1; k >= 0; k--)
      if (!supports(times[i] - times[k], likely[k], out, at + 2 * LAGS)) break;
    for (let lag = 0; lag < LAGS; lag++)
      out[at + SIDES * LAGS + lag] = out[at + lag] * out[at + 2 * LAGS + lag];
    out[at + (SIDES + 1) * LAGS] = Math.max(-3, Math.min(3, odds[i] / 2));
  }
  return out;
}

/** Counts an onset for the intervals that it lies one and two of away; false where it lies too far for any. */
function supports(apart: Seconds, likely: number, out: Float32Array, at: number): boolean {
  for (let times = 1; times <= 2; times++) {
    const place = Math.log(apart / (times * SHORTEST)) / LAG_STEP;
    const wide = WIDE / LAG_STEP;
    const last = Math.min(LAGS - 1, Math.floor(place + wide));
    for (let lag = Math.max(0, Math.ceil(place - wide)); lag <= last; lag++) {
      const to = at + (times - 1) * LAGS + lag;
      out[to] = Math.max(out[to], (1 - Math.abs(place - lag) / wide) * likely);
    }
  }
  return apart < 2 * LONGEST * Math.exp(WIDE);
}
