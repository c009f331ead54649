import type { Tuning } from './heard.ts';
import type { Partials } from './partials.ts';

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
