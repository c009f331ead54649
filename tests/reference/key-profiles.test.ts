import { expect, test } from 'vitest';
import { correlation, profiles } from '../../shared/hear/key.ts';

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
