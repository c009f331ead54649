import type { Beats, Seconds } from '../../shared/math/units.ts';

/** A written place and when one of its notes was played. */
export interface Struck {
  readonly at: Beats;
  readonly time: Seconds;
}

/**
 * When a written place came, as one who annotates a performance by its score says it: where notes are
 * written, the played note nearest to the mean of them; between, in proportion.
 */
export function soundingTime(struck: readonly Struck[]): (at: Beats) => Seconds {
  const places = new Map<Beats, Seconds[]>();
  for (const { at, time } of struck) {
    const key = Math.round(at * 96) / 96;
    places.set(key, [...(places.get(key) ?? []), time]);
  }
  const anchors: Struck[] = [];
  for (const [at, times] of [...places].sort(([a], [b]) => a - b)) {
    const mean = times.reduce((sum, time) => sum + time, 0) / times.length;
    const time = times.reduce((best, t) => (Math.abs(t - mean) < Math.abs(best - mean) ? t : best));
    // Two hands may overlap where notes are quick; time goes on all the same.
    if (anchors.length === 0 || time > anchors[anchors.length - 1].time) anchors.push({ at, time });
  }
  return (at) => {
    let i = 0;
    while (i + 2 < anchors.length && anchors[i + 1].at <= at + 1e-6) i++;
    const [a, b] = [anchors[i], anchors[i + 1] ?? anchors[i]];
    return b.at > a.at ? a.time + ((at - a.at) / (b.at - a.at)) * (b.time - a.time) : a.time;
  };
}
