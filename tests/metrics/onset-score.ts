import type { Seconds } from '../../shared/math/units.ts';
import { matchWithin, type Score, scoreOf } from './matching.ts';

/** F-measure of onsets as in mir_eval.onset.f_measure: the largest matching within a window. */
export function onsetScore(
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  window: Seconds = 0.05,
): Score {
  return scoreOf(matchWithin(truth, heard, window).length, truth.length, heard.length);
}

/** Signed errors (heard minus true: late is positive) of matched moments. */
export interface Errors {
  readonly count: number;
  /** Mean of the distances. */
  readonly mean: Seconds;
  /** Mean of the signed errors. */
  readonly bias: Seconds;
  readonly median: Seconds;
  /** 95th percentile of the distances. */
  readonly p95: Seconds;
}

export function errorsOf(signed: readonly Seconds[]): Errors {
  const count = signed.length;
  if (count === 0) return { count, mean: 0, bias: 0, median: 0, p95: 0 };
  const sorted = [...signed].sort((a, b) => a - b);
  const far = signed.map(Math.abs).sort((a, b) => a - b);
  return {
    count,
    mean: far.reduce((sum, x) => sum + x, 0) / count,
    bias: signed.reduce((sum, x) => sum + x, 0) / count,
    median: sorted[Math.floor(count / 2)],
    p95: far[Math.min(count - 1, Math.floor(0.95 * count))],
  };
}

/** Signed errors of the onsets matched within a window. */
export function onsetErrors(
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  window: Seconds = 0.05,
): Seconds[] {
  return matchWithin(truth, heard, window).map(([i, j]) => heard[j] - truth[i]);
}

/** How many of some of the true onsets were found, when all of them are matched. */
export function recallOf(
  some: readonly Seconds[],
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  window: Seconds = 0.05,
): { readonly found: number; readonly of: number } {
  const wanted = new Set(some);
  const found = matchWithin(truth, heard, window).filter(([i]) => wanted.has(truth[i])).length;
  return { found, of: truth.filter((time) => wanted.has(time)).length };
}
