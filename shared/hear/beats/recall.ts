import type { Seconds } from '../../math/units.ts';
import type { BeatEvidence } from './evidence.ts';
import { likenessOf } from './likeness.ts';
import { likenessesTo, looksOf } from './looks.ts';
import type { Interval } from './rhythm.ts';
import { indexFrom } from './search.ts';
import type { Tuning } from './tuning.ts';

/** An onset this close to a confirmed beat is on it. */
const ON_BEAT: Seconds = 0.045;
/** The start of an interval is known by the onset on it or the last one before it, this far away at most, in beats. */
const FARTHEST = 1.5;
/** So many of the confirmed onsets that are most like an interval's first are asked. */
const ASKED = 12;
/** Weight of a pair with as many onsets between as the interval has, with one more or less, with two. */
const SKIPPED = [1, 0.4, 0.15];
/** Spread of places in the beat and of numbers of beats that are alike. */
const PLACE = 0.09;
const COUNT = 0.09;
/** Likeness that counts as little: of the onsets around, and of whole passages. */
const LITTLE_NEAR = 0.1;
const LITTLE_PASSAGE = 2;
/** Share of pairs that would fit if there were nothing to remember. */
const CHANCE = 0.08;
const CHANCE_BEAT = 0.3;

/** Numbers that say how confirmed passages count what an interval spans. */
export const RECALL_INPUTS = 6;

/** Beats up to each confirmed onset, whole numbers on beats. */
function countsAt(times: Float64Array, beats: readonly Seconds[], first: number, until: number) {
  const counts = new Float64Array(Math.max(0, until - first));
  let beat = 0;
  for (let k = first; k < until; k++) {
    while (beat < beats.length - 2 && beats[beat + 1] <= times[k] + ON_BEAT) beat++;
    const since = times[k] - beats[beat];
    const length = beats[beat + 1] - beats[beat];
    const on =
      Math.abs(since) < ON_BEAT ? 0 : Math.abs(since - length) < ON_BEAT ? 1 : since / length;
    counts[k - first] = beat + on;
  }
  return counts;
}

/** What is like an onset, in rising order of onsets: those most like it, and the likeness of all. */
interface Likes {
  readonly all: Float32Array;
  readonly most: readonly number[];
}

function likesOf(all: Float32Array): Likes {
  const most: number[] = [];
  for (let k = 0; k < all.length; k++) {
    if (most.length === ASKED && all[k] <= all[most[ASKED - 1]]) continue;
    let at = most.length;
    while (at > 0 && all[most[at - 1]] < all[k]) at--;
    most.splice(at, 0, k);
    if (most.length > ASKED) most.pop();
  }
  return { all, most };
}

/** Differences of so many spreads and more count nothing. */
const FAR = 4;

function bell(x: number, spread: number): number {
  const z = x / spread;
  return z > FAR || z < -FAR ? 0 : Math.exp(-0.5 * z * z);
}

/**
 * Remembers how many beats lay between two onsets like those of an interval where the user has confirmed
 * beats: material that returns, and an accompaniment that goes on, are counted as they were, also where
 * beats in them are silent.
 *
 * @param beats confirmed, in rising order; two or more
 * @param until onsets from here on are not asked about
 * @returns what writes `RECALL_INPUTS` numbers for an interval
 */
export function recallCounts(
  evidence: BeatEvidence,
  beats: readonly Seconds[],
  until: Seconds,
  tuning: Tuning,
): (interval: Interval, out: Float32Array, at: number) => void {
  const { times } = evidence;
  const first = indexFrom(times, beats[0] - ON_BEAT);
  const taught = indexFrom(times, beats[beats.length - 1] + ON_BEAT);
  const from = Math.max(first, indexFrom(times, beats[beats.length - 2] - ON_BEAT));
  const end = indexFrom(times, until);
  const counts = countsAt(times, beats, first, taught);
  const onBeat = counts.map((count) => bell(count - Math.round(count), PLACE));
  const likeness = likenessesTo(looksOf(evidence, tuning), first, taught, tuning);
  const near = Array.from({ length: Math.max(0, end - from) }, (_, d) => {
    const all = likeness(from + d).slice();
    // Nothing is like itself, and only what comes before teaches.
    all.fill(0, Math.max(0, from + d - first));
    return likesOf(all);
  });
  const { reach, weights } = likenessOf(evidence);
  const passages = Array.from({ length: Math.max(0, end - from) }, (_, d) => {
    const i = from + d;
    const all = new Float32Array(Math.max(0, taught - first));
    const near = Math.max(first, i - reach);
    const row = (i + 1) * reach - i;
    if (near < taught)
      all.set(weights.subarray(row + near, row + Math.min(i, taught)), near - first);
    return likesOf(all);
  });

  const askNear = asking(near, LITTLE_NEAR, from, counts, onBeat);
  const askPassages = asking(passages, LITTLE_PASSAGE, from, counts, onBeat);
  return ({ first: own, last, start, end: stop, parts }, out, at) => {
    out.fill(0, at, at + RECALL_INPUTS);
    if (last < from || last >= end) return;
    const length = (stop - start) / parts;
    const p = own >= 0 ? own : indexFrom(times, start) - 1;
    if (p < from || p >= last || start - times[p] > FARTHEST * length) return;
    const place = own >= 0 ? 0 : (times[p] - start) / length;
    const between = own >= 0 ? parts : (times[last] - times[p]) / length;
    askNear(p, last, place, between, out, at);
    askPassages(p, last, place, between, out, at + 3);
  };
}

/**
 * Asks the confirmed pairs that are most like two onsets how many beats lie between.
 *
 * @param likes what is like each onset from `from` on
 * @param little likeness that counts as little
 * @param counts beats up to each confirmed onset, and how near to a beat it is
 * @returns what writes three numbers for a pair of onsets, the place of the first in its beat and beats between them. What was
 * found of a pair is kept until another is asked about: the same one is asked about with several numbers of beats.
 */
function asking(
  likes: readonly Likes[],
  little: number,
  from: number,
  counts: Float64Array,
  onBeat: Float64Array,
) {
  const fits = new Float64Array(ASKED * (2 * SKIPPED.length - 1));
  const spans = new Float64Array(fits.length);
  const asked = { p: -1, q: -1, place: 0 };
  let many = 0;
  let total = 0;
  let beat = 0;
  const find = (p: number, q: number, place: number) => {
    Object.assign(asked, { p, q, place });
    many = 0;
    total = 0;
    beat = 0;
    const { all } = likes[q - from];
    const first = likes[p - from];
    for (const k of first.most) {
      const weight = first.all[k];
      if (weight <= 0) break;
      const off = counts[k] - place;
      const same = place === 0 ? onBeat[k] : bell(off - Math.round(off), PLACE);
      for (let skipped = 1 - SKIPPED.length; skipped < SKIPPED.length; skipped++) {
        const l = k + q - p + skipped;
        if (l <= k || l >= all.length) continue;
        const both = SKIPPED[Math.abs(skipped)] * Math.sqrt(weight * all[l]);
        total += both;
        beat += both * same;
        fits[many] = both * same;
        spans[many++] = counts[l] - counts[k];
      }
    }
  };
  return (p: number, q: number, place: number, between: number, out: Float32Array, at: number) => {
    if (p !== asked.p || q !== asked.q || place !== asked.place) find(p, q, place);
    let fit = 0;
    for (let i = 0; i < many; i++) fit += fits[i] * bell(spans[i] - between, COUNT);
    out[at] = Math.log((fit + CHANCE * little) / (total + little));
    out[at + 1] = Math.log((fit + CHANCE * little) / (beat + CHANCE_BEAT * little));
    out[at + 2] = Math.log(total + little);
  };
}
