import type { Seconds } from '../math/units.ts';
import { indexFrom } from './beat-search.ts';
import { PARTS, type Tuning } from './beat-tuning.ts';

/** Steps to either side in which a beat is moved in its cluster. */
const STEPS = 18;

/** A path of beats: where each lies and whether an onset carries it. */
export interface Path {
  readonly times: Seconds[];
  readonly sounding: boolean[];
}

/**
 * Moves beats that no onset carries to where the tempo and the onsets around them put them. Between
 * two sounding beats the interval changes at an even rate from the one before to the one after; each
 * beat is then moved a little so that the onsets in the beats on either side fall where onsets fall.
 *
 * @param first the first beat that may be moved
 * @param rates share of beats with an onset in each inner part of the beat
 */
export function placeSilent(
  path: Path,
  first: number,
  onsets: Float64Array,
  rates: ArrayLike<number>,
  tuning: Tuning,
): void {
  const { times, sounding } = path;
  for (let i = Math.max(1, first); i < times.length - 1; i++) {
    if (sounding[i]) continue;
    const a = i - 1;
    let b = i;
    while (b < times.length - 1 && !sounding[b]) b++;
    const parts = b - a;
    const even = (times[b] - times[a]) / parts;
    const before = a > 0 ? times[a] - times[a - 1] : even;
    const after = b + 1 < times.length && sounding[b + 1] ? times[b + 1] - times[b] : even;
    const clamp = (x: number) => Math.max(-0.5, Math.min(0.5, x));
    const from = clamp(Math.log(before / even)) * tuning.curve;
    const until = clamp(Math.log(after / even)) * tuning.curve;
    const lengths = Array.from({ length: parts }, (_, m) =>
      Math.exp(from + ((until - from) * (m + 1)) / (parts + 1)),
    );
    const sum = lengths.reduce((total, x) => total + x, 0);
    let at = times[a];
    for (let m = 0; m < parts - 1; m++) {
      at += (lengths[m] / sum) * (times[b] - times[a]);
      times[a + 1 + m] = at;
    }
    if (tuning.fitWeight > 0)
      for (let m = a + 1; m < b; m++) times[m] = fitted(times, m, onsets, rates, tuning);
    i = b;
  }
}

/** Where the onsets around a silent beat put it, at most a quarter of a beat from where it was. */
function fitted(
  times: readonly Seconds[],
  index: number,
  onsets: Float64Array,
  rates: ArrayLike<number>,
  tuning: Tuning,
): Seconds {
  const [last, here, next] = [times[index - 1], times[index], times[index + 1]];
  const inside: Seconds[] = [];
  for (const onset of onsets) if (onset > last + 0.03 && onset < next - 0.03) inside.push(onset);
  if (inside.length === 0) return here;
  const width = 0.25 * Math.min(here - last, next - here);
  let best = -Infinity;
  let bestAt = here;
  for (let step = -8; step <= 8; step++) {
    const at = here + (step / 8) * width;
    const moved = Math.log((at - last) / (here - last));
    const other = Math.log((next - at) / (next - here));
    let worth = -(moved * moved + other * other) / (2 * tuning.fitSpread ** 2);
    for (const onset of inside) {
      const early = onset < at;
      const length = early ? at - last : next - at;
      const phase = (onset - (early ? last : at)) / length;
      worth += tuning.fitWeight * Math.log(density(phase, length, rates));
    }
    if (worth > best) {
      best = worth;
      bestAt = at;
    }
  }
  return bestAt;
}

/** How likely onsets are at a place inside the beat. */
function density(phase: number, length: Seconds, rates: ArrayLike<number>): number {
  let sum = 0.05;
  const wide = 0.025 / length;
  for (let part = 0; part <= PARTS; part++) {
    const rate = part === 0 || part === PARTS ? 0.1 : rates[part - 1];
    const z = (phase - part / PARTS) / wide;
    if (z > -3 && z < 3) sum += rate * Math.exp(-0.5 * z * z);
  }
  return sum;
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
const LOOSE: Seconds = 0.08;
/** Spread of players around the group's beat, and what the even beat counts beside one of them. */
const ENSEMBLE: Seconds = 0.035;
const EVEN = 0.3;
/** Weights of a quadratic fitted to seven beats, at the middle one (Savitzky and Golay 1964, table 1). */
const SEVEN = [-2, 3, 6, 7, 6, 3, -2].map((x) => x / 21);

/**
 * Draws beats of steady players together: the group's beat lies between the players who strike near
 * it, and near where the beats around put it. (In the Jazz Trio Database's annotations the mean of
 * two or three players is within 40 ms of the beat in 99 of 100 places, one player in 75 to 98.)
 *
 * @param free from this beat on beats may move
 * @param fixed times that stay
 * @param weight 0 leaves all as it is, 1 moves all the way
 */
export function smoothBeats(
  times: Seconds[],
  free: number,
  fixed: ReadonlySet<Seconds>,
  onsets: Float64Array,
  weight: number,
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
    let sum = EVEN * even;
    let total = EVEN;
    for (let k = indexFrom(onsets, even - LOOSE); k < onsets.length; k++) {
      const apart = onsets[k] - even;
      if (apart > LOOSE) break;
      const near = Math.exp(-0.5 * (apart / ENSEMBLE) ** 2);
      sum += near * onsets[k];
      total += near;
    }
    times[i] = before[i] + weight * (sum / total - before[i]);
  }
}
