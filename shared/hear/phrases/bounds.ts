import type { Seconds } from '../../math/units.ts';
import { breathOdds } from './breath-model.ts';
import { type PhraseEvidence, phraseCandidates } from './cues.ts';
import { breathModel } from './weights.ts';

/** No phrase is shorter. */
const shortest: Seconds = 2;
/** Usual length of a phrase, and how far lengths spread about it (natural logarithm). */
const usual: Seconds = 10;
const spread = 0.5;
/** What makes as many phrases as there are: the length alone speaks against each new one. */
export const more = 2.5;

/**
 * Where phrases begin, the first onset included: the likeliest way to divide the take, given what speaks
 * for a breath before each onset and how long phrases usually are (dynamic programming over all ways).
 */
export function phraseStarts(evidence: PhraseEvidence): Seconds[] {
  const { onsets, seconds } = evidence;
  if (onsets.length === 0) return [];
  const inner = phraseCandidates(evidence);
  const odds = inner.map(({ cues }) => breathOdds(cues, breathModel) + more);
  const times = [onsets[0].time, ...inner.map((c) => c.time), seconds];
  return bestDivision(times, odds);
}

/** The first time and those of the inner ones that divide best; the last ends the last stretch. */
export function bestDivision(times: readonly Seconds[], odds: readonly number[]): Seconds[] {
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
      const value = best[j] - odd ** 2 / 2 + (i < last ? odds[i - 1] : 0);
      if (value > best[i]) {
        best[i] = value;
        from[i] = j;
      }
    }
  const starts: Seconds[] = [];
  for (let i = from[last]; i > 0; i = from[i]) starts.unshift(times[i]);
  return [times[0], ...starts];
}
