import { median } from '../../math/median.ts';
import type { Seconds } from '../../math/units.ts';
import { type LevelCurve, meanLevel } from '../../take/levels.ts';
import type { Onset } from '../heard.ts';
import type { Partials } from '../pitch/partials.ts';
import { type Material, meanMaterial } from './material.ts';
import type { Repeats } from './repeats.ts';

/** What a breath is looked for in. */
export interface PhraseEvidence {
  readonly onsets: readonly Onset[];
  readonly seconds: Seconds;
  readonly curve: LevelCurve;
  readonly partials: readonly Partials[];
  readonly material: Material;
  readonly repeats: Repeats;
}

/** An attack that a phrase may begin with, and what speaks for it. */
export interface PhraseCandidate {
  readonly time: Seconds;
  readonly cues: readonly number[];
}

/** Onsets closer than this are one attack here: a spread chord has no breath inside it. */
const oneAttack: Seconds = 0.06;
/** How far around an onset its neighbours say what is usual, and how long its approach is. */
const around: Seconds = 5;
const approach: Seconds = 2;
/** Gaps on either side that a breath is compared with. */
const neighbours = 6;
/** Where no gap is known this one is usual. */
const usualGap: Seconds = 0.3;

/**
 * Every attack but the first, with what speaks for a breath before it: first the gap before it (against
 * the usual, octaves), the gaps of two seconds before and after likewise (players slow down into a
 * cadence), how far the sound has sunk, how far it rises, how it compares to before the cadence (10 dB
 * each), the change of harmony, the onset's strength, the gap in seconds; then how clearly repeated
 * material begins there, against around; then the gaps one by one, change of pace, harmony and register.
 */
export function phraseCandidates(evidence: PhraseEvidence): PhraseCandidate[] {
  const { onsets, curve, material, partials } = evidence;
  const attacks = onsets.filter((o, i) => i === 0 || o.time - onsets[i - 1].time >= oneAttack);
  const times = attacks.map((o) => o.time);
  const gaps = times.map((time, i) => (i === 0 ? 1 : time - times[i - 1]));
  const register = registerOf(partials);
  return attacks.slice(1).map(({ time, strength }, n) => {
    const i = n + 1;
    const near = gapsIn(times, gaps, time - around, time + around, i);
    const usual = near.length > 0 ? median(near) : usualGap;
    const octaves = (gap: Seconds) => Math.log2(gap / usual);
    const octavesIn = (from: Seconds, until: Seconds) =>
      octaves(mean(gapsIn(times, gaps, from, until, i), usual));
    const earlier = gaps.slice(Math.max(1, i - neighbours), i);
    const later = gaps.slice(i + 1, i + 1 + neighbours);
    const before = meanLevel(curve, time - 0.12, time - 0.01);
    const after = meanLevel(curve, time, time + 0.25);
    const cues = [
      octaves(gaps[i]),
      octavesIn(time - approach, time - 1e-6),
      octavesIn(time, time + approach),
      (meanLevel(curve, time - 4, time + 4) - before) / 10,
      (after - before) / 10,
      (after - meanLevel(curve, time - 1.2, time - 0.3)) / 10,
      harmonyChange(material, time, 3),
      strength,
      Math.min(gaps[i], 3),
      ...repeatCues(evidence.repeats, time),
      Math.log2(gaps[i] / Math.max(0.01, ...earlier)),
      Math.log2(gaps[i] / Math.max(0.01, ...later)),
      octaves(gaps[i - 1]),
      octaves(gaps[i + 1] ?? usualGap),
      octaves(gaps[i + 2] ?? usualGap),
      octaves(Math.max(0.01, ...later.slice(0, 3))),
      Math.log2(typical(later.slice(0, 5)) / typical(earlier.slice(-5))),
      harmonyChange(material, time, 1.2),
      harmonyChange(material, time, 6),
      Math.abs(register(time - 3, time - 0.1) - register(time, time + 3)),
    ];
    return { time, cues };
  });
}

function mean(values: readonly number[], otherwise: number): number {
  return values.length > 0 ? values.reduce((a, b) => a + b, 0) / values.length : otherwise;
}

function typical(gaps: readonly Seconds[]): Seconds {
  return gaps.length > 0 ? Math.max(0.01, median(gaps)) : usualGap;
}

/** Gaps before the attacks between two moments, but the first attack's and one other. */
function gapsIn(
  times: readonly Seconds[],
  gaps: readonly Seconds[],
  from: Seconds,
  until: Seconds,
  except: number,
): Seconds[] {
  const found: Seconds[] = [];
  for (let k = except; k > 0 && times[k] > from; k--)
    if (k !== except && times[k] < until) found.push(gaps[k]);
  for (let k = except + 1; k < times.length && times[k] < until; k++)
    if (times[k] > from) found.push(gaps[k]);
  return found;
}

function harmonyChange(material: Material, time: Seconds, side: Seconds): number {
  const before = meanMaterial(material, time - side, time - 0.1);
  const after = meanMaterial(material, time, time + side);
  if (!before.some((c) => c !== 0) || !after.some((c) => c !== 0)) return 0;
  return 1 - before.reduce((sum, c, i) => sum + c * after[i], 0);
}

/** How clearly repeated material begins at a moment: by itself, against before, after, and both, and much. */
function repeatCues({ begins, hop }: Repeats, time: Seconds): number[] {
  const within = (from: Seconds, until: Seconds) => {
    const first = Math.max(0, Math.round((time + from) / hop));
    return begins.subarray(first, Math.max(first, Math.round((time + until) / hop) + 1));
  };
  const most = (from: Seconds, until: Seconds) => Math.max(-1, ...within(from, until));
  const here = most(-0.25, 0.25);
  return [
    here,
    here - mean([...within(-3, -0.6)], 0),
    here - mean([...within(0.6, 3)], 0),
    Math.max(0, here - Math.max(most(-2.4, -0.6), most(0.6, 2.4))),
    Math.max(0, here - 0.5),
  ];
}

/** Mean pitch of what sounds between two moments, in octaves. */
function registerOf(partials: readonly Partials[]): (from: Seconds, until: Seconds) => number {
  const sums = new Float64Array(partials.length + 1);
  const weights = new Float64Array(partials.length + 1);
  partials.forEach(({ frequencies, magnitudes }, k) => {
    sums[k + 1] = sums[k];
    weights[k + 1] = weights[k];
    frequencies.forEach((frequency, i) => {
      const weight = Math.sqrt(magnitudes[i]);
      sums[k + 1] += weight * Math.log2(frequency);
      weights[k + 1] += weight;
    });
  });
  const hop = partials.length > 1 ? partials[1].time - partials[0].time : 1;
  const index = (time: Seconds) =>
    Math.max(0, Math.min(partials.length, Math.ceil(time / hop - 1e-9)));
  return (from, until) => {
    const [a, b] = [index(from), index(until)];
    return weights[b] > weights[a] ? (sums[b] - sums[a]) / (weights[b] - weights[a]) : 8;
  };
}
