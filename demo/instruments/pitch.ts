import type { Hertz } from '../../shared/math/units.ts';

/**
 * Pitch of a steady tone near `guess` (within a tone): the lag of the highest autocorrelation over
 * several periods, by a parabola through the three values around it.
 */
export function measurePitch(tone: Float64Array, guess: Hertz, rate: Hertz): Hertz {
  const periods = Math.max(1, Math.floor((tone.length * 0.5 * guess) / rate / 1.2));
  // First one period, then many of them: each finds its way to the next, with less and less doubt.
  let period = rate / guess;
  for (let count = 1; ; count = Math.min(periods, count * 3)) {
    const width = count === 1 ? 0.12 * period : 0.25 * period;
    const centre = period * count;
    let best = 0;
    let most = Number.NEGATIVE_INFINITY;
    const from = Math.floor(centre - width);
    const until = Math.ceil(centre + width);
    for (let lag = from; lag <= until; lag++) {
      const value = correlation(tone, lag);
      if (value > most) {
        most = value;
        best = lag;
      }
    }
    const before = correlation(tone, best - 1);
    const after = correlation(tone, best + 1);
    const bend = before - 2 * most + after;
    period = (best + (bend === 0 ? 0 : (0.5 * (before - after)) / bend)) / count;
    if (count === periods) return rate / period;
  }
}

function correlation(tone: Float64Array, lag: number): number {
  const length = tone.length >> 1;
  let sum = 0;
  for (let n = 0; n < length; n++) sum += tone[n] * tone[n + lag];
  return sum;
}
