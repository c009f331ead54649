import type { Hertz, Samples } from '../math/units.ts';
import type { TimeMap } from '../time/time-map.ts';
import { mapTime } from '../time/time-map.ts';

/** At output moment `out` sounds source moment `source` (full-rate samples); linear in between. */
export interface Knot {
  readonly out: Samples;
  readonly source: Samples;
}

/**
 * How time runs from one kept attack to the next: slope 1 for `zone` samples after the first and
 * before the second, so that no window holds an attack while time bends, and what is left is made up
 * in between along the map.
 */
export function planTime(a: Knot, z: Knot, map: TimeMap, sampleRate: Hertz, zone: Samples): Knot[] {
  const room = Math.min(z.out - a.out, z.source - a.source);
  const copy = Math.min(zone, room * 0.4);
  const knots: Knot[] = [a, { out: a.out + copy, source: a.source + copy }];
  const last = { out: z.out - copy, source: z.source - copy };
  for (const anchor of map.anchors) {
    const knot = { out: mapTime(map, anchor.from) * sampleRate, source: anchor.from * sampleRate };
    const before = knots[knots.length - 1];
    const dOut = knot.out - before.out;
    const dSource = knot.source - before.source;
    const restOut = last.out - knot.out;
    const restSource = last.source - knot.source;
    if (dOut < zone || restOut < zone) continue;
    if (
      dSource < dOut * 0.2 ||
      restSource < restOut * 0.2 ||
      dSource > dOut * 5 ||
      restSource > restOut * 5
    )
      continue;
    knots.push(knot);
  }
  knots.push(last, z);
  return knots;
}

/** The source moment that sounds at `out`; slope 1 outside the knots. `hint` speeds up walks. */
export function sourceAt(knots: readonly Knot[], out: Samples): Samples {
  const first = knots[0];
  const last = knots[knots.length - 1];
  if (out <= first.out) return first.source + (out - first.out);
  if (out >= last.out) return last.source + (out - last.out);
  let low = 0;
  let high = knots.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (knots[middle].out <= out) low = middle;
    else high = middle;
  }
  const a = knots[low];
  const b = knots[high];
  return a.source + ((out - a.out) * (b.source - a.source)) / (b.out - a.out);
}
