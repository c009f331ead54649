import type { Seconds, Share } from '../math/units.ts';
import type { Phrase } from './heard.ts';
import { alikeFrom, type Material } from './material.ts';

/** A phrase counts as a return from this likeness on. */
const alike: Share = 0.77;
/** As much of two phrases is compared: their openings say which they are, their ends may be cut elsewhere. */
const longest: Seconds = 10;
const shortest: Seconds = 2;

/**
 * Marks each phrase that repeats an earlier one's material, and how many semitones higher (-5 to 6):
 * their pitch classes are aligned from both starts on, in all twelve transpositions.
 */
export function findReturns(phrases: readonly Phrase[], material: Material): Phrase[] {
  return phrases.map((phrase, i) => {
    let like: Phrase['like'];
    for (let j = 0; j < i; j++) {
      const earlier = phrases[j];
      const length = Math.min(phrase.end - phrase.start, earlier.end - earlier.start, longest);
      if (length < shortest) continue;
      for (let semitones = -5; semitones <= 6; semitones++) {
        const score = alikeFrom(material, earlier.start, phrase.start, semitones, length);
        if (score >= alike && score > (like?.score ?? 0)) like = { phrase: j, semitones, score };
      }
    }
    return like ? { ...phrase, like } : phrase;
  });
}
