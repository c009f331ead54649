import type { Share } from '../../math/units.ts';
import type { BeatEvidence } from './evidence.ts';
import { commonSalience, saliences } from './salience.ts';
import { indexFrom } from './search.ts';
import type { BeatState } from './state.ts';

/** An onset this close to a beat carries it. */
const ON_BEAT = 0.04;

/**
 * Weights of a logistic model of a beat being right (within 70 ms): constant, whether an onset carries
 * it, how like a beat that onset is, how far the tempo moves over four beats. Fitted by logistic regression
 * on the beats heard in the development set (log loss 0.38).
 */
const CONFIDENCE = [0.3, 1.1, 0.7, -1.9] as const;

/** How sure each beat is: 1 for what the user set, high for what they passed over. */
export function confidences(evidence: BeatEvidence, state: BeatState): Share[] {
  const salience = saliences(evidence, commonSalience());
  const set = new Set(state.pinned.map((one) => one.time));
  return state.times.map((time, i) => {
    if (set.has(time)) return 1;
    if (time <= state.confirmed) return 0.97;
    const cues = confidenceCues(evidence, state.times, salience, i);
    const sum = CONFIDENCE.reduce((total, weight, c) => total + weight * cues[c], 0);
    return 1 / (1 + Math.exp(-sum));
  });
}

/** The numbers that `CONFIDENCE` weighs. */
function confidenceCues(
  evidence: BeatEvidence,
  beats: readonly number[],
  salience: Float64Array,
  i: number,
): number[] {
  const { times } = evidence;
  const near = indexFrom(times, beats[i] - ON_BEAT);
  let like = -Infinity;
  for (let k = near; k < times.length && times[k] <= beats[i] + ON_BEAT; k++)
    like = Math.max(like, salience[k]);
  const sounding = like > -Infinity;
  const [from, until] = [beats[i - 4], beats[i + 4]];
  const move =
    from === undefined || until === undefined
      ? 0.2
      : Math.abs(Math.log((until - beats[i]) / (beats[i] - from)));
  return [1, sounding ? 1 : 0, sounding ? like : 0, Math.min(1, move)];
}
