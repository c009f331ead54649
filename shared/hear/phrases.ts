import type { Seconds } from '../math/units.ts';
import { type Audio, secondsOf } from '../take/audio.ts';
import { levelCurve, meanLevel } from '../take/levels.ts';
import type { Beat, Onset, Phrase } from './heard.ts';
import { hearPartials } from './partials.ts';
import { findReturns } from './returns.ts';
import { tuningOf } from './tuning.ts';

/** Phrases are about this long; shorter ones join a neighbour, longer ones are looked at again. */
const shortestPhrase: Seconds = 2.5;
const longestPhrase: Seconds = 14;

/**
 * Phrases: stretches between breaths. Every onset after a gap is weighed by how long nothing new began,
 * how far the sound had sunk and how strongly it begins again; the largest weights cut, as long as
 * phrases keep a sensible length. A phrase ends where its sound has died or just before the next.
 */
export function hearPhrases(
  audio: Audio,
  onsets: readonly Onset[],
  _beats: readonly Beat[],
): Phrase[] {
  if (onsets.length === 0) return [];
  const seconds = secondsOf(audio);
  const curve = levelCurve(audio, 0.02);
  const smooth = (from: Seconds, until: Seconds) => meanLevel(curve, from, until);
  const typical = medianGap(onsets);
  const weights = onsets.map((onset, i) => {
    if (i === 0) return Number.POSITIVE_INFINITY;
    const gap = onset.time - onsets[i - 1].time;
    const sunk =
      smooth(onsets[i - 1].time, onsets[i - 1].time + 0.2) -
      smooth(onset.time - 0.1, onset.time - 0.01);
    const rise = smooth(onset.time, onset.time + 0.2) - smooth(onset.time - 0.1, onset.time - 0.01);
    return Math.log2(gap / typical) + Math.max(0, sunk) / 12 + Math.max(0, rise) / 24;
  });
  const cuts = split(onsets, weights, 0, onsets.length, seconds);
  const bounds = cuts.map((i) => onsets[i].time);
  const phrases = bounds.map((start, p) => {
    const limit = bounds[p + 1] ?? seconds;
    let end = limit;
    while (end > start + 0.2 && smooth(end - 0.02, end) < -66) end -= 0.02;
    return { start, end, energy: meanLevel(curve, start, end) };
  });
  const partials = hearPartials(audio, 0.1, 16);
  return findReturns(phrases, partials, tuningOf(partials));
}

function medianGap(onsets: readonly Onset[]): Seconds {
  const gaps = onsets
    .slice(1)
    .map((onset, i) => onset.time - onsets[i].time)
    .sort((a, b) => a - b);
  return gaps.length > 0 ? Math.max(gaps[gaps.length >> 1], 0.05) : 1;
}

/** Indices of the onsets that begin phrases among `from` to `until` (exclusive), the first included. */
function split(
  onsets: readonly Onset[],
  weights: readonly number[],
  from: number,
  until: number,
  seconds: Seconds,
): number[] {
  const endOf = (i: number) => onsets[i]?.time ?? seconds;
  let best = -1;
  for (let i = from + 1; i < until; i++) {
    if (onsets[i].time - onsets[from].time < shortestPhrase) continue;
    if (endOf(until) - onsets[i].time < shortestPhrase) continue;
    if (best < 0 || weights[i] > weights[best]) best = i;
  }
  const long = endOf(until) - onsets[from].time > longestPhrase;
  const least = long ? 0.8 : 2.2;
  if (best < 0 || weights[best] < least) return [from];
  return [
    ...split(onsets, weights, from, best, seconds),
    ...split(onsets, weights, best, until, seconds),
  ];
}
