import type { Seconds } from '../math/units.ts';
import { type Audio, secondsOf } from '../take/audio.ts';
import { levelCurve, meanLevel } from '../take/levels.ts';
import type { Onset, Phrase } from './heard.ts';
import { hearPartials } from './partials.ts';
import { phraseStarts } from './phrase-bounds.ts';
import { findReturns } from './returns.ts';
import { tuningOf } from './tuning.ts';

/** Under this level nothing sounds any more: a phrase ends there. */
const died = -66;

/**
 * Phrases: stretches of playing between breaths, each from its first attack to where its sound has died or
 * the next begins; and which of them repeat earlier material.
 */
export function hearPhrases(audio: Audio, onsets: readonly Onset[]): Phrase[] {
  if (onsets.length === 0) return [];
  const seconds = secondsOf(audio);
  const curve = levelCurve(audio, 0.02);
  const partials = hearPartials(audio);
  const tuning = tuningOf(partials);
  const starts = phraseStarts(onsets, seconds, curve, partials, tuning);
  const phrases = starts.map((start, p) => {
    let end: Seconds = starts[p + 1] ?? seconds;
    while (end > start + 0.2 && meanLevel(curve, end - 0.02, end) < died) end -= 0.02;
    return { start, end, energy: meanLevel(curve, start, end) };
  });
  return findReturns(phrases, partials, tuning);
}
