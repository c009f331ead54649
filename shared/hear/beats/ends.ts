import type { Seconds } from '../../math/units.ts';
import { indexFrom } from './search.ts';

/** An onset that lies so close to where a beat is due carries it, and one as far before or after counts as due. */
const NEAR: Seconds = 0.06;
/** Beats whose mean interval says when the next one is due. */
const FEW = 4;

/** Stretches in which no beat lies. */
type Zones = readonly { readonly from: Seconds; readonly until: Seconds }[];

function onsetNear(onsets: Float64Array, time: Seconds): Seconds {
  const next = indexFrom(onsets, time);
  const before = onsets[next - 1] ?? -Infinity;
  const after = onsets[next] ?? Infinity;
  const near = time - before < after - time ? before : after;
  return Math.abs(near - time) <= NEAR ? near : time;
}

/** Beats due from one end on while there are onsets; `step` is the interval, negative towards the start. */
function* due(
  end: Seconds,
  step: Seconds,
  onsets: Float64Array,
  struck: Zones,
): Generator<Seconds> {
  const first = onsets[0] - NEAR;
  const last = onsets[onsets.length - 1] + NEAR;
  for (let at = onsetNear(onsets, end + step); at >= first && at <= last; ) {
    if (at < 0 || struck.some((zone) => at > zone.from && at < zone.until)) return;
    yield at;
    at = onsetNear(onsets, at + step);
  }
}

/**
 * Steady players' beats, with those before the first and behind the last that their tempo has while anybody
 * plays: nobody keeps a tempo and leaves out its first or last beat.
 *
 * @param confirmed whether the first beat is one, so that none comes before it
 * @param struck where the user wants none
 */
export function reachEnds(
  times: readonly Seconds[],
  confirmed: boolean,
  onsets: Float64Array,
  struck: Zones,
): Seconds[] {
  const n = times.length;
  if (n <= FEW) return times.slice();
  const before = confirmed ? [] : [...due(times[0], (times[0] - times[FEW]) / FEW, onsets, struck)];
  const after = due(times[n - 1], (times[n - 1] - times[n - 1 - FEW]) / FEW, onsets, struck);
  return [...before.reverse(), ...times, ...after];
}
