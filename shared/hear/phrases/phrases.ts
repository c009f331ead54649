import type { Seconds } from '../../math/units.ts';
import { type Audio, secondsOf } from '../../take/audio.ts';
import { levelCurve, meanLevel } from '../../take/levels.ts';
import { type BeatEvidence, gatherBeatEvidence } from '../beats/evidence.ts';
import type { Onset, Phrase } from '../heard.ts';
import { hearPartials, type Partials } from '../pitch/partials.ts';
import { tuningOf } from '../pitch/tuning.ts';
import { phraseStarts } from './bounds.ts';
import { materialOf } from './material.ts';
import { hearRepeats } from './repeats.ts';
import { findReturns } from './returns.ts';

/** This far under the take's loudest moment nothing sounds any more: a phrase ends there. */
const died = -60;

/**
 * Phrases: stretches of playing between breaths, each from its first attack to where its sound has died or
 * the next begins; and which of them repeat earlier material.
 *
 * @param fresh which pitch classes begin at the onsets, where it is known already
 */
export function hearPhrases(
  audio: Audio,
  onsets: readonly Onset[],
  partials: readonly Partials[] = hearPartials(audio),
  fresh: Pick<BeatEvidence, 'times' | 'fresh'> = gatherBeatEvidence(audio, onsets),
): Phrase[] {
  if (onsets.length === 0) return [];
  const seconds = secondsOf(audio);
  const curve = levelCurve(audio, 0.02);
  const quiet = curve.levels.reduce((top, level) => Math.max(top, level), -120) + died;
  const material = materialOf(partials, tuningOf(partials), seconds, fresh);
  const repeats = hearRepeats(material);
  const starts = phraseStarts({ onsets, seconds, curve, partials, material, repeats });
  const phrases = starts.map((start, p) => {
    let end: Seconds = starts[p + 1] ?? seconds;
    while (end > start + 0.2 && meanLevel(curve, end - 0.02, end) < quiet) end -= 0.02;
    return { start, end, energy: meanLevel(curve, start, end) };
  });
  return findReturns(phrases, material, repeats);
}
