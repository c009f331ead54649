import { expect, test } from 'vitest';
import { corpusProfiles, correlation, profiles } from '../../shared/hear/pitch/key.ts';

/**
 * Correlations of the key of C major with other keys as Krumhansl and Kessler 1982 print them (also
 * Krumhansl 1990, "Cognitive Foundations of Musical Pitch", table 2.4). From memory. The profiles are
 * printed to two places, so correlations of the printed ones are off by up to 0.002.
 */
const published = [
  { mode: 'major', up: 7, value: 0.591 },
  { mode: 'major', up: 5, value: 0.591 },
  { mode: 'major', up: 6, value: -0.683 },
  { mode: 'minor', up: 9, value: 0.651 },
  { mode: 'minor', up: 0, value: 0.511 },
  { mode: 'minor', up: 4, value: 0.536 },
] as const;

test.each(published)('C major and the $mode key $up semitones up', ({ mode, up, value }) => {
  const rotated = profiles[mode].map((_, i) => profiles[mode][(i - up + 12) % 12]);
  expect(Math.abs(correlation(profiles.major, rotated) - value)).toBeLessThan(0.002);
});

/**
 * Temperley 2007, "Music and Probability", chapter 6, on the Kostka-Payne corpus (from memory): the tonic triad
 * is what sounds most in either mode, the leading tone more than the lowered seventh, and in minor the
 * lowered third and sixth more than the raised ones.
 */
test('the corpus profiles rank the degrees as the book says', () => {
  for (const [mode, third] of [
    ['major', 4],
    ['minor', 3],
  ] as const) {
    const byShare = corpusProfiles[mode].map((share, degree) => ({ share, degree }));
    const most = byShare.sort((a, b) => b.share - a.share).slice(0, 3);
    expect(most.map(({ degree }) => degree).sort((a, b) => a - b)).toEqual([0, third, 7]);
    expect(corpusProfiles[mode][11]).toBeGreaterThan(corpusProfiles[mode][10]);
  }
  expect(corpusProfiles.minor[3]).toBeGreaterThan(corpusProfiles.minor[4]);
  expect(corpusProfiles.minor[8]).toBeGreaterThan(corpusProfiles.minor[9]);
});
