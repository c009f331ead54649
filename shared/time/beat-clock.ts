import { median } from '../math/median.ts';
import type { Beats, Bpm, Seconds } from '../math/units.ts';

/**
 * The players' own clock: seconds of the take to beats and back, straight lines between beats. Beat 0 is
 * the first beat given. Before the first and after the last beat the tempo of the nearest four
 * intervals goes on.
 */
export interface BeatClock {
  readonly times: readonly Seconds[];
  readonly before: Seconds;
  readonly after: Seconds;
}

/** @param times strictly rising; at least two. Throws RangeError otherwise. */
export function makeBeatClock(times: readonly Seconds[]): BeatClock {
  if (times.length < 2) throw new RangeError('A beat clock wants two beats or more.');
  const intervals = times.slice(1).map((time, i) => time - (times[i] as Seconds));
  if (!intervals.every((interval) => interval > 0))
    throw new RangeError('The beats of a beat clock rise strictly.');
  return { times, before: median(intervals.slice(0, 4)), after: median(intervals.slice(-4)) };
}

/** Where a moment stands, counted in beats from the first beat. */
export function beatAt({ times, before, after }: BeatClock, time: Seconds): Beats {
  const last = times.length - 1;
  const first = times[0] as Seconds;
  const end = times[last] as Seconds;
  if (time <= first) return (time - first) / before;
  if (time >= end) return last + (time - end) / after;
  let low = 0;
  let high = last;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((times[middle] as Seconds) <= time) low = middle;
    else high = middle;
  }
  const a = times[low] as Seconds;
  return low + (time - a) / ((times[high] as Seconds) - a);
}

/** The moment of a position in beats: the inverse of `beatAt`. */
export function timeOfBeat({ times, before, after }: BeatClock, position: Beats): Seconds {
  const last = times.length - 1;
  if (position <= 0) return (times[0] as Seconds) + position * before;
  if (position >= last) return (times[last] as Seconds) + (position - last) * after;
  const i = Math.floor(position);
  const a = times[i] as Seconds;
  return a + (position - i) * ((times[i + 1] as Seconds) - a);
}

/** Median tempo of the beats. */
export function medianTempo(times: readonly Seconds[]): Bpm {
  return 60 / median(times.slice(1).map((time, i) => time - (times[i] as Seconds)));
}
