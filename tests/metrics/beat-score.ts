import type { Seconds } from '../../shared/math/units.ts';
import { matchWithin, scoreOf } from './matching.ts';

/** Leaves out the first seconds, as mir_eval.beat.trim_beats does. */
export function trimBeats(beats: readonly Seconds[], from: Seconds = 5): Seconds[] {
  return beats.filter((time) => time >= from);
}

/** F-measure of beats as in mir_eval.beat.f_measure. */
export function beatF(
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  window: Seconds = 0.07,
): number {
  return scoreOf(matchWithin(truth, heard, window).length, truth.length, heard.length).f;
}

/** The better F of two metrical levels, both of which a listener may tap. */
export function betterBeatF(
  levels: readonly (readonly Seconds[])[],
  heard: readonly Seconds[],
  window: Seconds = 0.07,
): number {
  return Math.max(...levels.map((level) => beatF(level, heard, window)));
}

/**
 * Cemgil's accuracy (Cemgil, Kappen, Desain and Honing 2000, J. New Music Research 29(4)) with a
 * Gaussian of 40 ms, and the best of it over five readings of the metre, as mir_eval.beat.cemgil.
 */
export function cemgil(
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  sigma: Seconds = 0.04,
): { readonly score: number; readonly best: number } {
  if (truth.length === 0 || heard.length === 0) return { score: 0, best: 0 };
  const accuracy = (beats: readonly Seconds[]): number => {
    let sum = 0;
    for (const beat of beats) {
      const away = Math.min(...heard.map((time) => Math.abs(time - beat)));
      sum += Math.exp(-(away ** 2) / (2 * sigma ** 2));
    }
    return sum / (0.5 * (heard.length + beats.length));
  };
  const middles = truth.slice(1).map((time, i) => (time + truth[i]) / 2);
  const double = [...truth, ...middles].sort((a, b) => a - b);
  const even = truth.filter((_, i) => i % 2 === 0);
  const odd = truth.filter((_, i) => i % 2 === 1);
  const scores = [truth, middles, double, even, odd].map(accuracy);
  return { score: scores[0], best: Math.max(...scores) };
}

/** McKinney's P-score (McKinney et al. 2007, J. New Music Research 36(1)) as mir_eval.beat.p_score. */
export function pScore(
  truth: readonly Seconds[],
  heard: readonly Seconds[],
  threshold = 0.2,
): number {
  if (truth.length <= 1 || heard.length <= 1) return 0;
  const offset = Math.min(...truth, ...heard);
  const frames = (times: readonly Seconds[]): number[] => [
    ...new Set(times.map((time) => Math.ceil((time - offset) * 100))),
  ];
  const reference = frames(truth).sort((a, b) => a - b);
  const estimated = frames(heard);
  const intervals = reference.slice(1).map((frame, i) => frame - reference[i]);
  const reach = roundHalfEven(threshold * median(intervals));
  let near = 0;
  for (const a of reference) for (const b of estimated) if (Math.abs(a - b) <= reach) near++;
  return near / Math.max(truth.length, heard.length);
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return (sorted[Math.floor(middle - 0.5)] + sorted[Math.floor(middle)]) / 2;
}

/** As numpy rounds. */
function roundHalfEven(x: number): number {
  const down = Math.floor(x);
  if (x - down !== 0.5) return Math.round(x);
  return down % 2 === 0 ? down : down + 1;
}
