import { type BeatEvidence, CUES } from './beat-evidence.ts';

/** A logistic model of how likely an onset is to carry a beat: a weight a cue, then the constant. */
export type Salience = Float64Array;

/** Fitted on our own recordings by tests/bench/fit-beats.ts. */
export const COMMON_SALIENCE: Salience = Float64Array.from([
  0.5, 0.1, -0.1, 0.1, 0.2, 0.2, 0.2, 0.2, 0.5, 0.1, 0.4, 0.1, 0.1, 0.1, 0.6,
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
