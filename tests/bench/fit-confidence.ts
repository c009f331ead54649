/**
 * Fits how sure a beat is and prints it, to be copied into shared/hear/beats/confidence.ts:
 *
 *   npx tsx tests/bench/fit-confidence.ts
 *
 * Logistic regression (Newton's step for one weight after another) on the beats first heard in pieces of beats/lesson-rounds.ts:
 * a beat is right within 70 ms of a true one, at the level that the whole piece was heard at. Then it says how the
 * development set's beats, which are not among them, are judged. Needs fluidsynth; a minute beside the recordings, which
 * are those of fit-next-beat.ts.
 */
import { confidenceCues } from '../../shared/hear/beats/confidence.ts';
import { startBeats } from '../../shared/hear/beats/fixes.ts';
import { commonSalience, saliences } from '../../shared/hear/beats/salience.ts';
import { beatF } from '../metrics/beat-score.ts';
import type { Session } from '../perform/record.ts';
import { sessionsOf } from '../perform/sets.ts';
import { heardPiece } from './beats/heard-piece.ts';
import { lessonRound, partsRound, ROUNDS } from './beats/lesson-rounds.ts';

const EVERY = 2;
const STEPS = 60;
const RIGHT = 0.07;

interface Judged {
  readonly cues: readonly number[];
  readonly right: boolean;
}

function judged(session: Session): Judged[] {
  const { beats, other, evidence } = heardPiece(session);
  const { times } = startBeats(evidence);
  const truth = beatF(beats, times) >= beatF(other, times) ? beats : other;
  const cues = confidenceCues(evidence, times, saliences(evidence, commonSalience()));
  return times.map((time, i) => ({
    cues: cues[i],
    right: truth.some((beat) => Math.abs(beat - time) <= RIGHT),
  }));
}

const odds = (weights: readonly number[], { cues }: Judged) =>
  cues.reduce((sum, cue, c) => sum + weights[c] * cue, 0);
const likely = (sum: number) => 1 / (1 + Math.exp(-sum));

function fitted(beats: readonly Judged[]): number[] {
  const weights = beats[0].cues.map(() => 0);
  const sums = Float64Array.from(beats, () => 0);
  for (let step = 0; step < STEPS; step++)
    for (let c = 0; c < weights.length; c++) {
      let slope = 0;
      let bend = 1e-6;
      for (const [i, { cues, right }] of beats.entries()) {
        const share = likely(sums[i]);
        slope += ((right ? 1 : 0) - share) * cues[c];
        bend += share * (1 - share) * cues[c] ** 2;
      }
      weights[c] += slope / bend;
      for (const [i, { cues }] of beats.entries()) sums[i] += (slope / bend) * cues[c];
    }
  return weights;
}

const rounds = Array.from({ length: Math.ceil(ROUNDS / EVERY) }, (_, i) => i * EVERY);
const taught = rounds
  .flatMap((round) => [...lessonRound(round), ...partsRound(round)])
  .flatMap(judged);
const weights = fitted(taught);
console.log(`${taught.length} beats: ${weights.map((weight) => weight.toFixed(2)).join(', ')}`);

const kept = [...sessionsOf('dev')].flatMap(judged);
const loss = kept.map((one) => -Math.log(likely((one.right ? 1 : -1) * odds(weights, one))));
const doubted = kept.filter((one) => odds(weights, one) < 0);
const wrong = (some: readonly Judged[]) => some.filter((one) => !one.right).length;
console.log(
  `development set: log loss ${(loss.reduce((a, b) => a + b, 0) / kept.length).toFixed(3)}, ` +
    `${doubted.length} of ${kept.length} doubted, ${wrong(doubted)} of them wrong, of all ${wrong(kept)}`,
);
