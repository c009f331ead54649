import type { Audio } from '../take/audio.ts';
import type { Key, Tuning } from './heard.ts';
import { hearPartials, type Partials } from './partials.ts';

/** Probe-tone profiles of Krumhansl and Kessler 1982 (Psychological Review 89:334-368), from the tonic up. */
export const profiles = {
  major: [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88],
  minor: [6.33, 2.68, 3.52, 5.38, 2.6, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17],
};

/** Names of the twelve tonics as the trade spells them, from C. */
export const tonics = ['C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'];

/** Below this correlation, or this lead over the next best key, the key is not named. */
const leastFit = 0.5;
const leastLead = 0.005;
/** Nor where the twelve weights differ by less than this share of their mean: a correlation sees no size. */
const leastContrast = 0.16;

/** A peak within this many cents of a lower peak's multiple may be that one's overtone. */
const overtoneWidth = 35;
const highestRatio = 2 ** (overtoneWidth / 1200);
const lowestRatio = 1 / highestRatio;

/** What is left of a peak when the likely overtones of lower peaks are taken off: a fundamental's share. */
function fundamental({ frequencies, magnitudes }: Partials, i: number): number {
  let left = magnitudes[i];
  for (let j = 0; j < frequencies.length; j++) {
    const ratio = frequencies[i] / frequencies[j];
    if (ratio < 2 * lowestRatio || ratio > 6 * highestRatio) continue;
    const multiple = Math.round(ratio);
    if (ratio < multiple * lowestRatio || ratio > multiple * highestRatio) continue;
    left -= magnitudes[j] / Math.sqrt(multiple);
  }
  return Math.max(left, 0);
}

/**
 * Weight of each pitch class (from C) over a stretch. Magnitudes are pressed to their fourth root, so that
 * how long a note sounds counts for more than how loud it is.
 */
export function chromaOf(moments: readonly Partials[], tuning: Tuning): Float64Array {
  const chroma = new Float64Array(12);
  for (const moment of moments)
    moment.frequencies.forEach((frequency, i) => {
      const note = Math.round(69 + 12 * Math.log2(frequency / tuning.a4));
      chroma[((note % 12) + 12) % 12] += fundamental(moment, i) ** 0.25;
    });
  return chroma;
}

/** Pearson correlation; 0 where one of the two does not vary. */
export function correlation(a: ArrayLike<number>, b: ArrayLike<number>): number {
  const n = a.length;
  let meanA = 0;
  let meanB = 0;
  for (let i = 0; i < n; i++) {
    meanA += a[i] / n;
    meanB += b[i] / n;
  }
  let ab = 0;
  let aa = 0;
  let bb = 0;
  for (let i = 0; i < n; i++) {
    ab += (a[i] - meanA) * (b[i] - meanB);
    aa += (a[i] - meanA) ** 2;
    bb += (b[i] - meanB) ** 2;
  }
  return aa > 0 && bb > 0 ? ab / Math.sqrt(aa * bb) : 0;
}

/** Moments that are weighed together before they count: a second at the usual hop. */
const together = 10;

/**
 * The key by Pearson correlation with the 24 rotated profiles; "unclear" where none stands out. Every
 * second counts alike, however full its chords are.
 */
export function hearKey(
  audio: Audio,
  tuning: Tuning,
  partials: readonly Partials[] = hearPartials(audio),
): Key {
  const chroma = new Float64Array(12);
  for (let i = 0; i < partials.length; i += together / 2) {
    const here = chromaOf(partials.slice(i, i + together), tuning);
    const most = Math.max(...here);
    if (most > 0) for (let c = 0; c < 12; c++) chroma[c] += here[c] / most;
  }
  return keyOf(chroma);
}

/** Standard deviation over mean. */
function contrast(weights: Float64Array): number {
  const mean = weights.reduce((sum, w) => sum + w, 0) / weights.length;
  const power = weights.reduce((sum, w) => sum + (w - mean) ** 2, 0) / weights.length;
  return mean > 0 ? Math.sqrt(power) / mean : 0;
}

/** The same from pitch-class weights. */
export function keyOf(chroma: Float64Array): Key {
  const fits: { tonic: number; mode: 'major' | 'minor'; fit: number }[] = [];
  for (let tonic = 0; tonic < 12; tonic++)
    for (const mode of ['major', 'minor'] as const) {
      const rotated = profiles[mode].map((_, i) => profiles[mode][(i - tonic + 12) % 12]);
      fits.push({ tonic, mode, fit: correlation(chroma, rotated) });
    }
  fits.sort((a, b) => b.fit - a.fit);
  const [best, next] = fits;
  const lead = best.fit - next.fit;
  const confidence = Math.max(0, Math.min(1, best.fit)) * Math.min(1, 0.5 + lead * 5);
  if (best.fit < leastFit || lead < leastLead || contrast(chroma) < leastContrast)
    return { tonic: 'unclear', mode: 'unclear', confidence };
  return { tonic: tonics[best.tonic], mode: best.mode, confidence };
}
