import { median } from '../math/median.ts';
import type { Seconds } from '../math/units.ts';
import { type LevelCurve, meanLevel } from '../take/levels.ts';
import type { Onset } from './heard.ts';
import { type Material, meanMaterial } from './material.ts';

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
 * a logistic model, fitted on the development set of `tests/perform` (37 pieces of more than one phrase).
 */
const evidence = [
  { mean: 0.0344, spread: 0.9855, weight: 1.4195 },
  { mean: 0.4026, spread: 0.718, weight: 0.252 },
  { mean: 0.1603, spread: 0.5649, weight: -0.249 },
  { mean: 0.2617, spread: 0.5842, weight: 0.4847 },
  { mean: 0.2944, spread: 0.601, weight: -0.3998 },
  { mean: 0.1394, spread: 0.5581, weight: -0.1053 },
  { mean: 0.606, spread: 0.2891, weight: 0.3173 },
  { mean: 0.3813, spread: 0.2401, weight: 0.5415 },
  { mean: 0.3351, spread: 0.3503, weight: 0.1289 },
];
/** The model's own bias, and what makes as many phrases as there are. */
const bias = -5.2328 + 2;

interface Candidate {
  readonly time: Seconds;
  readonly score: number;
}

function harmonyChange(material: Material, time: Seconds): number {
  const before = meanMaterial(material, time - side, time - 0.1);
  const after = meanMaterial(material, time, time + side);
  if (!before.some((c) => c !== 0) || !after.some((c) => c !== 0)) return 0;
  return 1 - before.reduce((sum, c, i) => sum + c * after[i], 0);
}

function candidates(onsets: readonly Onset[], curve: LevelCurve, material: Material): Candidate[] {
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
      harmonyChange(material, time),
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
  material: Material,
): Seconds[] {
  if (onsets.length === 0) return [];
  const inner = candidates(onsets, curve, material);
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
