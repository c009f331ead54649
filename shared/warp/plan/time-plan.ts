import type { Hertz, Samples, Share } from '../../math/units.ts';
import { type TimeMap, unmapTime } from '../../time/time-map.ts';
import type { Decay } from './decay.ts';

/** At output moment `out` sounds source moment `source` (full-rate samples); linear in between. */
export interface Knot {
  readonly out: Samples;
  readonly source: Samples;
}

/** Farthest (s) that local time may stand off the map. */
const farthest = 0.3;
/** The same where a piece is shortened in which nothing rises: its natural decay is heard, its end is cut. */
const farthestBehind = 1;
/** Rises (dB) up to which nothing begins, and from which on something may: what soft notes bring that no flux shows. */
const still = 1;
const stirring = 3;
/** Slowest that time may run while something is made longer: below this, sound seems to stand still. */
const slowest = 0.15;

/**
 * How time runs from one kept attack (`a`) to the next (`z`). What is struck or plucked dies away by
 * itself, however long it is held: there time runs at slope 1 from the attack for as long as it may, and
 * the difference is made up late: cut off when the piece is shorter, drawn out when it is longer. What
 * is bowed, blown or sung follows the map evenly; the decay says which. Off the map by 300 ms at most; by a
 * second where the piece is shortened and nothing in it rises, so that no soft note can get lost.
 *
 * @param zone samples at slope 1 after `a` and before `z`, so that no window that holds an attack sees
 *   time bend; less where there is no room
 * @param end share of them before `z` that is enough where a piece is drawn out
 */
export function planTime(
  a: Knot,
  z: Knot,
  map: TimeMap,
  sampleRate: Hertz,
  zone: Samples,
  { share, risen }: Decay,
  end: Share,
): Knot[] {
  const long = z.out - a.out;
  const given = z.source - a.source;
  if (long <= 0 || given <= 0) return [a];
  const calm = Math.max(0, Math.min(1, (stirring - risen) / (stirring - still)));
  const most = long < given ? farthest + (farthestBehind - farthest) * calm : farthest;
  const off = most * sampleRate * share;
  const copy = Math.min(zone, Math.min(long, given) * 0.4);
  const inner: Knot[] = [];
  for (const anchor of map.anchors) {
    const source = anchor.from * sampleRate;
    if (source >= z.source) break;
    const out = anchor.to * sampleRate;
    if (source > a.source && out > a.out && out < z.out) inner.push({ out, source });
  }
  return off < Math.abs(copy * (1 - given / long)) + 0.01 * sampleRate
    ? planAlong(a, z, inner, copy, (out) => unmapTime(map, out / sampleRate) * sampleRate)
    : planLate(a, z, [a, ...inner, z], copy, long > given ? copy * end : copy, off);
}

/**
 * Slope 1 from `a` for as long as it stays within `off` of the map (whose bends are `way`), then beside
 * it, `copy` of it in any case. What has to be drawn out gets there in time for slope 1 over `lead` before `z`; what has
 * to be shortened is cut off at the end, at most `off` of it.
 */
function planLate(
  a: Knot,
  z: Knot,
  way: readonly Knot[],
  copy: Samples,
  lead: Samples,
  off: Samples,
): Knot[] {
  const end = { out: z.out - lead, source: z.source - lead };
  // Right after the attack slope 1 takes time as far off as it takes it.
  const most = Math.max(off, Math.abs(sourceAt(way, a.out + copy) - a.source - copy));
  const between = end.out - a.out - copy;
  const slope = between > 0 ? Math.min(slowest, (end.source - a.source - copy) / between) : slowest;
  const at = (out: Samples): Samples => {
    const mapped = sourceAt(way, out);
    const free = Math.max(mapped - most, Math.min(mapped + most, a.source + (out - a.out)));
    return Math.min(free, end.source - slope * (end.out - out));
  };
  const free = Math.min(end.source - at(end.out), off);
  const last = free > 0 ? { out: z.out, source: z.source - free } : z;
  const knots: Knot[] = [a];
  const steps = Math.max(1, Math.ceil(between / (copy / 2 + 1)));
  for (let i = 0; i <= steps; i++) {
    const out = a.out + copy + (between * i) / steps;
    const knot = { out, source: Math.max(at(out), knots[knots.length - 1].source) };
    const before = knots[knots.length - 2];
    const bend = before
      ? Math.abs(
          sourceAt([before, knot], knots[knots.length - 1].out) - knots[knots.length - 1].source,
        )
      : 1;
    if (bend < 0.01) knots.pop();
    knots.push(knot);
  }
  knots.push(last);
  return knots;
}

/** How many times as long as slope 1 lasts time takes to get back to the map from there. */
const back = 4;

/** Along the map (`mapped`), whose bends lie at `inner`, with slope 1 next to both attacks. */
function planAlong(
  a: Knot,
  z: Knot,
  inner: readonly Knot[],
  copy: Samples,
  mapped: (out: Samples) => Samples,
): Knot[] {
  const knots = [a, { out: a.out + copy, source: a.source + copy }];
  const end = { out: z.out - copy, source: z.source - copy };
  const way = Math.min(back * copy, (z.out - a.out) / 2 - copy);
  const from = { out: a.out + copy + way, source: mapped(a.out + copy + way) };
  const to = { out: end.out - way, source: mapped(end.out - way) };
  const bends = inner.filter(({ out }) => out > from.out && out < to.out);
  for (const knot of [from, ...bends, to]) {
    const last = knots[knots.length - 1];
    const sane = (from: Knot, to: Knot): boolean => {
      const slope = (to.source - from.source) / (to.out - from.out);
      return to.out - from.out > copy / 2 && slope > slowest / 2 && slope < 5;
    };
    if (sane(last, knot) && sane(knot, end)) knots.push(knot);
  }
  return [...knots, end, z];
}

/** The source moment that sounds at `out`; slope 1 outside the knots. */
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
