import type { Seconds } from '../../shared/math/units.ts';

/** A true moment and the heard one that was taken for it, by their places in the lists. */
export type Pair = readonly [truth: number, heard: number];

/**
 * The largest one-to-one matching of two rising lists of moments that are at most `window` apart, and
 * among the largest the one with the smallest sum of distances. On a line a best matching never
 * crosses, so it is an alignment found by dynamic programming.
 */
export function matchWithin(
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  window: Seconds,
): Pair[] {
  const columns = heard.length + 1;
  // One pair outweighs all distances: each adds `reward` minus its distance.
  const reward = 4 * window * (truth.length + 1) + 1;
  const value = new Float64Array((truth.length + 1) * columns);
  for (let i = truth.length - 1; i >= 0; i--) {
    for (let j = heard.length - 1; j >= 0; j--) {
      const skip = Math.max(value[(i + 1) * columns + j], value[i * columns + j + 1]);
      const apart = Math.abs(truth[i] - heard[j]);
      const take = apart <= window ? value[(i + 1) * columns + j + 1] + reward - apart : 0;
      value[i * columns + j] = Math.max(skip, take);
    }
  }
  const pairs: Pair[] = [];
  for (let i = 0, j = 0; i < truth.length && j < heard.length; ) {
    const here = value[i * columns + j];
    if (value[(i + 1) * columns + j] === here) i++;
    else if (value[i * columns + j + 1] === here) j++;
    else pairs.push([i++, j++]);
  }
  return pairs;
}

export interface Score {
  readonly precision: number;
  readonly recall: number;
  readonly f: number;
}

export function scoreOf(matched: number, truths: number, heards: number): Score {
  const precision = heards > 0 ? matched / heards : 0;
  const recall = truths > 0 ? matched / truths : 0;
  const f = matched > 0 ? (2 * precision * recall) / (precision + recall) : 0;
  return { precision, recall, f };
}
