import type { Slice } from '../cut/slice.ts';
import type { Beats, Seconds } from '../math/units.ts';
import { type BeatClock, beatAt } from '../time/beat-clock.ts';
import { nearestGridPoint } from '../time/grid.ts';
import { type Anchor, mapTime, type TimeMap } from '../time/time-map.ts';
import type { Lane, Placement } from './lane.ts';
import type { LaneMaterial } from './material.ts';

/** Where nothing inside a slice would move further than this, the slice is moved and not stretched. */
const unheard: Seconds = 0.01;
/** Anchors keep this distance, and this share of it in the result. */
const closest: Seconds = 0.06;
const steepest = 4;

/** How long a placed slice sounds from its landing, in the lane's beats, where nothing else ends it. */
export function placedBeats(
  placement: Placement,
  slice: Slice,
  lane: Lane,
  clock: BeatClock | null,
  onsets: LaneMaterial['onsets'],
): Beats {
  const map = placementMap(placement, slice, lane, clock, onsets);
  return (mapTime(map, slice.end - slice.landing) * lane.bpm) / 60;
}

/**
 * The map of one placed slice, both sides counted from the landing: beats inside the slice go where the
 * lane's tempo has them (by `steady`), attacks between them to the grid (by `tighten`), the end where the
 * players' clock puts it, or later when the placement is lengthened. No anchors: the slice is only moved.
 */
export function placementMap(
  placement: Placement,
  slice: Slice,
  lane: Lane,
  clock: BeatClock | null,
  onsets: LaneMaterial['onsets'],
): TimeMap {
  const beat = 60 / lane.bpm;
  const steady = lane.steady / 100;
  const pull = lane.tighten / 100;
  const home = clock ? beatAt(clock, slice.landing) : 0;
  const place = (time: Seconds): Seconds =>
    clock
      ? steady * (beatAt(clock, time) - home) * beat + (1 - steady) * (time - slice.landing)
      : time - slice.landing;
  const inside = (time: Seconds) => time > slice.landing + closest && time < slice.end - closest;

  const wanted: Anchor[] = [];
  if (clock) {
    for (const time of clock.times)
      if (inside(time)) wanted.push({ from: time - slice.landing, to: place(time) });
    if (pull > 0)
      for (const { time } of onsets) {
        if (!inside(time)) continue;
        const at = placement.at + place(time) / beat;
        const target = nearestGridPoint(at, lane.grid, lane.swing);
        const from = time - slice.landing;
        const beside = wanted.findIndex((anchor) => Math.abs(anchor.from - from) < closest);
        if (beside >= 0) wanted.splice(beside, 1);
        wanted.push({ from, to: (at + pull * (target - at) - placement.at) * beat });
      }
  }
  const ends = place(slice.end);
  const asked = placement.length === null ? ends : Math.max(ends, placement.length * beat);
  wanted.push({ from: slice.end - slice.landing, to: asked });
  wanted.sort((a, b) => a.from - b.from);

  if (wanted.every((anchor) => Math.abs(anchor.to - anchor.from) < unheard)) return { anchors: [] };
  const anchors: Anchor[] = [{ from: 0, to: 0 }];
  for (const anchor of wanted) {
    const last = anchors[anchors.length - 1];
    const run = anchor.from - last.from;
    const rise = Math.min(anchor.to - last.to, run * steepest);
    if (run >= closest / 2 && rise > run / steepest)
      anchors.push({ from: anchor.from, to: last.to + rise });
  }
  return anchors.length > 1 ? { anchors } : { anchors: [] };
}
