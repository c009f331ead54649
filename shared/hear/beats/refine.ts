import type { Seconds, Share } from '../../math/units.ts';
import type { Path } from './path.ts';
import { indexFrom } from './search.ts';
import { beatsInside } from './silent.ts';
import type { Tuning } from './tuning.ts';

/** Steps to either side in which a beat is moved in its cluster. */
const STEPS = 18;

/**
 * Puts beats that no onset carries where the tempo on either side and the onsets around them say.
 *
 * @param first the first beat that may be moved
 * @param weight 0 leaves them even, 1 moves them all the way
 */
export function placeSilent(
  { times, sounding }: Path,
  first: number,
  onsets: Float64Array,
  weight: number,
): void {
  for (let i = Math.max(1, first); i < times.length - 1; i++) {
    if (sounding[i]) continue;
    const a = i - 1;
    let b = i;
    while (b < times.length - 1 && !sounding[b]) b++;
    const gap = {
      start: times[a],
      end: times[b],
      parts: b - a,
      before: a > 0 ? times[a] - times[a - 1] : undefined,
      after: sounding[b + 1] ? times[b + 1] - times[b] : undefined,
    };
    for (const [m, time] of beatsInside(onsets, gap, weight).entries()) times[i + m] = time;
    i = b;
  }
}

/**
 * A beat played by several hands or as a spread chord is a cluster of onsets, any of which may be the
 * one that is counted. The beat moves from its own onset towards the others just so far that as many
 * of them as possible, each by its odds, lie within `tuning.reach`: what is heard as one moment.
 *
 * @param free the first beat that may be moved
 * @param odds log odds of each onset to carry a beat
 */
export function centreInClusters(
  path: Path,
  free: number,
  fixed: ReadonlySet<Seconds>,
  onsets: Float64Array,
  odds: Float64Array,
  tuning: Tuning,
): void {
  const { times, sounding } = path;
  const wide = 2 * tuning.reach;
  for (let i = free; i < times.length; i++) {
    if (!sounding[i] || fixed.has(times[i])) continue;
    const here = times[i];
    const from = indexFrom(onsets, here - wide);
    const until = indexFrom(onsets, here + wide);
    if (until - from < 2) continue;
    let best = -Infinity;
    let bestAt = here;
    for (let step = -STEPS; step <= STEPS; step++) {
      const at = here + (step / STEPS) * tuning.reach;
      let worth = -Math.abs(step / STEPS) * tuning.reachCost;
      for (let k = from; k < until; k++) {
        // The onset that the path chose has the whole way on its side.
        const own = Math.abs(onsets[k] - here) < 1e-4 ? tuning.reachOwn : 0;
        if (Math.abs(onsets[k] - at) <= tuning.reach)
          worth += Math.exp(Math.max(-4, Math.min(4, odds[k])) + own);
      }
      if (worth > best) {
        best = worth;
        bestAt = at;
      }
    }
    times[i] = bestAt;
  }
}

/** Most that a steady player's beat is off. */
export const LOOSE: Seconds = 0.08;
/** Spread of players around the group's beat, and what the even beat counts beside one of them. */
const ENSEMBLE: Seconds = 0.035;
const EVEN = 0.3;
/** Weights of a quadratic fitted to seven beats, at the middle one (Savitzky and Golay 1964, table 1). */
const SEVEN = [-2, 3, 6, 7, 6, 3, -2].map((x) => x / 21);

/**
 * The players who strike near a beat: those near it count for more, and those that are likely to carry one.
 *
 * @param odds log odds of each onset to carry a beat
 * @param counted 1 where onsets count by their odds, 0 where all count the same
 * @returns what they count together, and the sum of their times by what each counts
 */
export function playersNear(
  onsets: Float64Array,
  odds: Float64Array,
  beat: Seconds,
  counted: Share,
): { readonly sum: number; readonly total: number } {
  let sum = 0;
  let total = 0;
  for (let k = indexFrom(onsets, beat - LOOSE); k < onsets.length; k++) {
    const apart = onsets[k] - beat;
    if (apart > LOOSE) break;
    const near = Math.exp(-0.5 * (apart / ENSEMBLE) ** 2) * (1 + Math.exp(-odds[k])) ** -counted;
    sum += near * onsets[k];
    total += near;
  }
  return { sum, total };
}

/**
 * Draws beats of steady players together: the group's beat lies between the players who strike near
 * it, and near where the beats around put it. (In the Jazz Trio Database's annotations the mean of
 * two or three players is within 40 ms of the beat in 99 of 100 places, one player in 75 to 98.) An
 * onset counts by how likely it carries a beat, so that a note that comes early or late pulls little.
 *
 * @param free from this beat on beats may move
 * @param fixed times that stay
 * @param odds log odds of each onset to carry a beat
 * @param weight 0 leaves all as it is, 1 moves all the way
 * @param counted 1 where onsets count by their odds, 0 where all count the same
 */
export function smoothBeats(
  times: Seconds[],
  free: number,
  fixed: ReadonlySet<Seconds>,
  onsets: Float64Array,
  odds: Float64Array,
  weight: Share,
  counted: Share,
): void {
  if (weight < 0.01) return;
  const before = times.slice();
  const half = SEVEN.length >> 1;
  for (let i = Math.max(0, free); i < times.length; i++) {
    if (fixed.has(before[i])) continue;
    let even = before[i];
    if (i >= half && i + half < before.length) {
      even = 0;
      for (let q = -half; q <= half; q++) even += SEVEN[q + half] * before[i + q];
    }
    // What is far from even is a turn of the tempo, not one player's inexactness.
    if (Math.abs(even - before[i]) > LOOSE) continue;
    const near = playersNear(onsets, odds, even, counted);
    const sum = EVEN * even + near.sum;
    const total = EVEN + near.total;
    times[i] = before[i] + weight * (sum / total - before[i]);
  }
}
