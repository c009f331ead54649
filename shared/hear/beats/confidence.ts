import type { Seconds, Share } from '../../math/units.ts';
import type { BeatEvidence } from './evidence.ts';
import { commonSaliences } from './salience.ts';
import { indexFrom } from './search.ts';
import type { BeatState } from './state.ts';

/** An onset this close to a beat carries it. */
const ON_BEAT = 0.04;
/** Beats to either side that say how the playing is around a beat. */
const AROUND = 6;
/** How like a beat one is that no onset carries (log odds), among those around. */
const SILENT = -1.5;

/**
 * Weights of a logistic model of a beat being right (within 70 ms), in the order of `confidenceCues`, fitted by
 * tests/bench/fit-confidence.ts on 35 900 beats as they are first heard. On the development set, which was not
 * among them, log loss is 0.29, and 0.37 on compositions by others (0.31 and 0.38 by three cues that knew nothing of the take
 * around a beat).
 */
const CONFIDENCE = [0.79, 1.02, 0.7, -1.89, 0.6, -1.63, -2.25] as const;

/** How sure each beat is: 1 for what the user set, high for what they passed over. */
export function confidences(evidence: BeatEvidence, state: BeatState): Share[] {
  const cues = confidenceCues(evidence, state.times, commonSaliences(evidence));
  const set = new Set(state.pinned.map((one) => one.time));
  return state.times.map((time, i) => {
    if (set.has(time)) return 1;
    if (time <= state.confirmed) return 0.97;
    const sum = CONFIDENCE.reduce((total, weight, c) => total + weight * cues[i][c], 0);
    return 1 / (1 + Math.exp(-sum));
  });
}

/**
 * The numbers that `CONFIDENCE` weighs, for each of rising `beats`: 1; whether an onset carries it; how like a beat
 * that onset is; how far the interval there is from the take's usual one; how like beats those around are; how many onsets around
 * that are like beats are left out, for each beat; how much the tempo moves around it. Both distances of intervals are natural logs,
 * 1 at most.
 */
export function confidenceCues(
  { times }: BeatEvidence,
  beats: readonly Seconds[],
  salience: Float64Array,
): number[][] {
  const leftOut = new Float64Array(times.length + 1);
  const carrying = beats.map(() => -Infinity);
  for (let k = 0, b = 0; k < times.length; k++) {
    while (b + 1 < beats.length && beats[b + 1] - times[k] < times[k] - beats[b]) b++;
    const onBeat = b < beats.length && Math.abs(times[k] - beats[b]) <= ON_BEAT;
    if (onBeat) carrying[b] = Math.max(carrying[b], salience[k]);
    leftOut[k + 1] = leftOut[k] + (onBeat ? 0 : 1 / (1 + Math.exp(-salience[k])));
  }
  const gaps = Float64Array.from(beats.slice(1), (time, i) => Math.log(time - beats[i]));
  const moves = gaps.subarray(1).map((gap, i) => Math.abs(gap - gaps[i]));
  const likes = Float64Array.from(carrying, (like) => Math.max(like, SILENT));
  const usual = gaps.slice().sort()[gaps.length >> 1] ?? 0;
  return beats.map((_, i) => {
    const from = Math.max(0, i - AROUND);
    const until = Math.min(beats.length, i + AROUND + 1);
    const sounding = carrying[i] > -Infinity;
    const own = mean(gaps, Math.max(0, i - 1), Math.min(gaps.length, i + 1));
    const first = indexFrom(times, beats[from]);
    const last = indexFrom(times, beats[until - 1]);
    return [
      1,
      sounding ? 1 : 0,
      sounding ? carrying[i] : 0,
      Math.min(1, Math.abs(own - usual)),
      mean(likes, from, until),
      (leftOut[last] - leftOut[first]) / (until - from),
      Math.min(1, mean(moves, from, until - 2)),
    ];
  });
}

/** Mean of some values of a row; 0 of none. */
function mean(values: Float64Array, from: number, until: number): number {
  let sum = 0;
  for (let i = from; i < until; i++) sum += values[i];
  return until > from ? sum / (until - from) : 0;
}
