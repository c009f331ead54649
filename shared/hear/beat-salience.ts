import { type BeatEvidence, CUES } from './beat-evidence.ts';
import type { Tuning } from './beat-tuning.ts';

/** A logistic model of how likely an onset is to carry a beat: a weight a cue, then the constant. */
export type Salience = Float64Array;

/** Fitted on our own recordings by tests/bench/fit-beats.ts. */
export const COMMON_SALIENCE: Salience = Float64Array.from([
  0.1, 0.04, -0.57, 0.56, 0.12, -0.19, 1.81, -0.25, 0.27, -0.37, 0.12, 0.28, 0, 0, -0.37,
]);

/** Log odds of a beat for each onset. */
export function saliences(evidence: BeatEvidence, model: Salience): Float64Array {
  const { times, cues } = evidence;
  return Float64Array.from(times, (_, i) => {
    let sum = model[CUES];
    for (let c = 0; c < CUES; c++) sum += model[c] * cues[i * CUES + c];
    return Math.max(-4, Math.min(4, sum));
  });
}

/**
 * The weights refitted to onsets known to carry a beat or not: the most likely ones under a normal
 * prior around `prior` (gradient steps with a diagonal second derivative, a few are enough since they
 * start from the last fit).
 *
 * @param known 1 for a beat, 0 for none, 2 where nothing is known, from the first onset on
 */
export function refitSalience(
  evidence: BeatEvidence,
  known: Uint8Array,
  prior: Salience,
  tuning: Tuning,
): Salience {
  const model = Float64Array.from(prior);
  const { cues } = evidence;
  const n = known.length;
  const slope = new Float64Array(CUES + 1);
  const bend = new Float64Array(CUES + 1);
  const tight = 1 / tuning.salienceLoose ** 2;
  for (let round = 0; round < 12; round++) {
    for (let c = 0; c <= CUES; c++) {
      slope[c] = (prior[c] - model[c]) * tight;
      bend[c] = tight;
    }
    let weight = 1;
    for (let i = n - 1; i >= 0 && known[i] < 2; i--) {
      let sum = model[CUES];
      for (let c = 0; c < CUES; c++) sum += model[c] * cues[i * CUES + c];
      const likely = 1 / (1 + Math.exp(-sum));
      const miss = (known[i] - likely) * weight;
      const width = likely * (1 - likely) * weight;
      for (let c = 0; c < CUES; c++) {
        const cue = cues[i * CUES + c];
        slope[c] += miss * cue;
        bend[c] += width * cue * cue;
      }
      slope[CUES] += miss;
      bend[CUES] += width;
      weight *= tuning.salienceForget;
    }
    for (let c = 0; c <= CUES; c++) model[c] += (0.5 * slope[c]) / bend[c];
  }
  return model;
}
