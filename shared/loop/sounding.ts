import type { Slice } from '../cut/slice.ts';
import type { Beats } from '../math/units.ts';
import type { Lane, Placement } from './lane.ts';
import { beatsOf } from './length.ts';

/** The placements that a lane sounds: of known slices, before its end (it may have been made shorter). */
export function soundingOf(
  placements: readonly Placement[],
  lane: Pick<Lane, 'bars' | 'beatsPerBar'>,
  slices: ReadonlyMap<string, Slice>,
): Placement[] {
  const end = beatsOf(lane);
  return placements.filter(({ slice, at }) => slices.has(slice) && at >= 0 && at < end);
}

/** Distance from a placement to the next landing on the closed loop, in beats; the whole loop for the only one. */
export function untilNext(
  placement: Placement,
  placements: readonly Placement[],
  loop: Beats,
): Beats {
  let nearest = loop;
  for (const other of placements) {
    const ahead = (((other.at - placement.at) % loop) + loop) % loop;
    if (ahead > 1e-9 && ahead < nearest) nearest = ahead;
  }
  return nearest;
}
