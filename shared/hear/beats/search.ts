import type { Seconds } from '../../math/units.ts';

/** First index of rising `times` whose time is not before `time`. */
export function indexFrom(times: ArrayLike<number>, time: Seconds): number {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] < time) low = middle + 1;
    else high = middle;
  }
  return low;
}
