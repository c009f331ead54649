import { batch } from 'solid-js';
import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Lane, Placement } from '../../../shared/loop/lane.ts';
import { beatsOf } from '../../../shared/loop/length.ts';
import { clockOf } from '../../../shared/loop/material.ts';
import { placedBeats } from '../../../shared/loop/placement-map.ts';
import type { Beats } from '../../../shared/math/units.ts';
import { medianTempo } from '../../../shared/time/beat-clock.ts';
import { pointsPerBeat } from '../../../shared/time/grid.ts';
import { addLane, nextLaneId } from '../../store/lane-commands.ts';
import {
  type NewPlacement,
  placementsOf,
  placeSlices,
  plainPlacement,
} from '../../store/placement-commands.ts';
import type { PageContext } from '../page/context.ts';

type Page = Omit<PageContext, 'actions' | 'playing' | 'midi'>;

/** How many of the lane's beats a placed slice takes, as it will sound: one that the players held for a beat takes one. */
type Lasting = (slice: NamedSlice, placement?: Placement) => Beats;

function lastingOn(page: Page, lane: Lane): Lasting {
  const heard = page.desk.store.heard();
  const clock = clockOf(heard?.beats ?? []);
  return (slice, placement) =>
    placedBeats(
      placement ?? { ...plainPlacement, id: '', slice: slice.id, at: 0 },
      slice,
      lane,
      clock,
      heard?.onsets ?? [],
    );
}

/** The flip in view; where the lane is straight or there is none, a new flip at the same tempo. */
export function flipInView(page: Page): Lane | null {
  const { store } = page.desk;
  const lane = page.lane();
  if (lane?.source.kind === 'flip') return lane;
  const project = store.project();
  if (!project) return null;
  const id = nextLaneId(project);
  const beats = store.heard()?.beats ?? [];
  const bpm =
    lane?.bpm ?? (beats.length > 1 ? Math.round(medianTempo(beats.map((b) => b.time))) : 90);
  const settings = lane
    ? {
        bars: lane.bars,
        beatsPerBar: lane.beatsPerBar,
        beatUnit: lane.beatUnit,
        grid: lane.grid,
        swing: lane.swing,
      }
    : {};
  store.edit(addLane({ kind: 'flip', placements: [] }, { ...settings, bpm }));
  store.setSession({ lane: id });
  return store.project()?.lanes.find((one) => one.id === id) ?? null;
}

/** The first free half beat after everything that stands on the lane. */
function nextStep(lane: Lane, slices: readonly NamedSlice[], lasting: Lasting): Beats {
  const ends = placementsOf(lane).map((one) => {
    const slice = slices.find((s) => s.id === one.slice);
    // However short it is, the next one does not land on it.
    return one.at + Math.max(0.5, one.length ?? (slice ? lasting(slice, one) : 1));
  });
  return Math.ceil(Math.max(0, ...ends) * 2 - 0.25) / 2;
}

/** Slices one after the other from a position on, each as long as it sounds, to the nearest half beat. */
function inARow(slices: readonly NamedSlice[], lasting: Lasting, at: Beats): NewPlacement[] {
  let next = at;
  return slices.map((slice) => {
    const placed = { slice: slice.id, at: next };
    next += Math.max(0.5, Math.round(lasting(slice) * 2) / 2);
    return placed;
  });
}

/** Sets slices on the lane by step: behind what stands there, from the start again when it is full. */
export function placeByStep(page: Page, ids: readonly string[], at?: Beats): void {
  const { store } = page.desk;
  // A new flip and what stands on it are shown in one go.
  const placed = batch(() => {
    const lane = flipInView(page);
    const project = store.project();
    if (!lane || !project) return 0;
    const slices = ids.flatMap((id) => project.slices.find((one) => one.id === id) ?? []);
    const lasting = lastingOn(page, lane);
    const from = at ?? nextStep(lane, project.slices, lasting) % beatsOf(lane);
    store.edit(placeSlices(lane.id, inARow(slices, lasting, from)));
    return slices.length;
  });
  if (placed > 0)
    page.messages.say(placed === 1 ? 'Set on the lane.' : `${placed} slices set on the lane.`);
}

/** The grid point nearest to a position. */
export function onGrid(at: Beats, lane: Lane): Beats {
  const n = pointsPerBeat(lane.grid);
  return Math.round(at * n) / n;
}
