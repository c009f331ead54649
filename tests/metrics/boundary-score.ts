import type { Seconds } from '../../shared/math/units.ts';
import { matchWithin, type Score, scoreOf } from './matching.ts';

/** Hit rate of boundaries within a window, as mir_eval.segment.detection (0.5 s and 3 s are usual). */
export function boundaryScore(
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  window: Seconds = 0.5,
): Score {
  return scoreOf(matchWithin(truth, heard, window).length, truth.length, heard.length);
}
