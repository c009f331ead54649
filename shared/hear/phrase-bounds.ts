import { median } from '../math/median.ts';
import type { Seconds } from '../math/units.ts';
import { type LevelCurve, meanLevel } from '../take/levels.ts';
import type { Onset, Tuning } from './heard.ts';
import { chromaOf } from './key.ts';
import type { Partials } from './partials.ts';

/** Onsets closer than this are one attack here: a spread chord has no breath inside it. */
const oneAttack: Seconds = 0.06;
/** How far around an onset its neighbours say what is usual. */
const around: Seconds = 5;
/** Material on both sides of an onset that is compared. */
const side: Seconds = 3;
/** No phrase is shorter. */
const shortest: Seconds = 2;
/** Usual length of a phrase, and how far lengths spread about it (natural logarithm). */
const usual: Seconds = 10;
const spread = 0.5;

/**
 * What speaks for a breath before an onset, in this order: the gap before it against the gaps around
 * (octaves), the gaps of the two seconds before and after it likewise (players slow down into a cadence),
 * how far the sound has sunk, how far it rises, how it compares to before the cadence (10 dB each), the change
 * of harmony, the onset's strength, the gap in seconds. Each with its mean, its spread and its weight in
 * a logistic model, fitted on the development set of `tests/perform` (42 recordings, leave one piece out).
 */
const evidence = [
  { mean: 0.0374, spread: 0.9878, weight: 0.4917 },
  { mean: 0.3679, spread: 0.6791, weight: 0.3715 },
  { mean: 0.1408, spread: 0.5768, weight: -0.0901 },
  { mean: 0.3529, spread: 0.5738, weight: 0.4226 },
  { mean: 0.423, spread: 0.6052, weight: -0.4548 },
  { mean: 0.1951, spread: 0.5459, weight: 0.0804 },
  { mean: 0.6338, spread: 0.3064, weight: 0.2799 },
  { mean: 0.5955, spread: 0.1417, weight: 0.2369 },
  { mean: 0.4445, spread: 0.4066, weight: 0.5768 },
];
const bias = -3.8544 + 1;

interface Candidate {
  readonly time: Seconds;
  readonly score: number;
}

function harmonyChange(partials: readonly Partials[], tuning: Tuning, time: Seconds): number {
  const centred = (from: Seconds, until: Seconds) => {
    const chroma = chromaOf(
      partials.filter((p) => p.time > from && p.time < until),
      tuning,
    );
    const mean = chroma.reduce((sum, c) => sum + c, 0) / 12;
    return chroma.map((c) => c - mean);
  };
  const before = centred(time - side, time - 0.1);
  const after = centred(time, time + side);
  const norms = Math.hypot(...before) * Math.hypot(...after);
  return norms > 0 ? 1 - before.reduce((sum, c, i) => sum + c * after[i], 0) / norms : 0;
}

function candidates(
  onsets: readonly Onset[],
  curve: LevelCurve,
  partials: readonly Partials[],
  tuning: Tuning,
): Candidate[] {
  const attacks = onsets.filter((o, i) => i === 0 || o.time - onsets[i - 1].time >= oneAttack);
  const gaps = attacks.map((o, i) => (i === 0 ? 1 : o.time - attacks[i - 1].time));
  const gapsIn = (from: Seconds, until: Seconds, except: number) =>
    gaps.filter(
      (_, k) => k > 0 && k !== except && attacks[k].time > from && attacks[k].time < until,
    );
  const mean = (values: readonly number[], otherwise: number) =>
    values.length > 0 ? values.reduce((a, b) => a + b, 0) / values.length : otherwise;
  return attacks.slice(1).map(({ time, strength }, n) => {
    const i = n + 1;
    const near = gapsIn(time - around, time + around, i);
    const usualGap = near.length > 0 ? median(near) : 0.3;
    const octaves = (gap: Seconds) => Math.log2(gap / usualGap);
    const before = meanLevel(curve, time - 0.12, time - 0.01);
    const after = meanLevel(curve, time, time + 0.25);
    const values = [
      octaves(gaps[i]),
      octaves(mean(gapsIn(time - 2, time - 1e-6, i), usualGap)),
      octaves(mean(gapsIn(time, time + 2, i), usualGap)),
      (meanLevel(curve, time - 4, time + 4) - before) / 10,
      (after - before) / 10,
      (after - meanLevel(curve, time - 1.2, time - 0.3)) / 10,
      harmonyChange(partials, tuning, time),
      strength,
      Math.min(gaps[i], 3),
    ];
    const score = values.reduce(
      (sum, value, k) =>
        sum + ((value - evidence[k].mean) / evidence[k].spread) * evidence[k].weight,
      bias,
    );
    return { time, score };
  });
}

/**
 * Where phrases begin, the first onset included: the likeliest way to divide the take, given what speaks
 * for a breath before each onset and how long phrases usually are (dynamic programming over all ways).
 */
export function phraseStarts(
  onsets: readonly Onset[],
  seconds: Seconds,
  curve: LevelCurve,
  partials: readonly Partials[],
  tuning: Tuning,
): Seconds[] {
  if (onsets.length === 0) return [];
  const inner = candidates(onsets, curve, partials, tuning);
  const times = [onsets[0].time, ...inner.map((c) => c.time), seconds];
  const last = times.length - 1;
  const best = new Float64Array(times.length).fill(Number.NEGATIVE_INFINITY);
  const from = new Int32Array(times.length);
  best[0] = 0;
  for (let i = 1; i <= last; i++)
    for (let j = i - 1; j >= 0; j--) {
      const length = times[i] - times[j];
      if (length > 6 * usual && i !== last && j !== 0) break;
      if ((length < shortest && !(i === last && j === 0)) || best[j] === Number.NEGATIVE_INFINITY)
        continue;
      const odd = Math.log(Math.max(length, 0.1) / usual) / spread;
      const value = best[j] - odd ** 2 / 2 + (i < last ? inner[i - 1].score : 0);
      if (value > best[i]) {
        best[i] = value;
        from[i] = j;
      }
    }
  const starts: Seconds[] = [];
  for (let i = from[last]; i > 0; i = from[i]) starts.unshift(times[i]);
  return [times[0], ...starts];
}
