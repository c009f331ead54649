import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Lane, Placement } from '../../../shared/loop/lane.ts';
import { beatsOf } from '../../../shared/loop/length.ts';
import { clockOf } from '../../../shared/loop/material.ts';
import { placedBeats } from '../../../shared/loop/placement-map.ts';
import type { Beats, Seconds } from '../../../shared/math/units.ts';
import { beatAt, makeBeatClock, timeOfBeat } from '../../../shared/time/beat-clock.ts';
import { steadyMap } from '../../../shared/time/steady.ts';
import { mapTime, type TimeMap } from '../../../shared/time/time-map.ts';
import type { Heard } from '../../store/heard.ts';

/** A word as it stands on the lane, in the lane's beats. */
export interface LaneWord {
  /** The placement's id in a flip, the slice's in a straight loop. */
  readonly id: string;
  readonly slice: NamedSlice;
  readonly placement: Placement | null;
  /** Where its block begins (its lead-in), where it lands, where it ends. */
  readonly from: Beats;
  readonly at: Beats;
  readonly until: Beats;
  /** What is written in it. */
  readonly soundFrom: Seconds;
  readonly soundUntil: Seconds;
}

/** An attack against the grid: where it falls and where its grid point is, in beats. */
export interface LaneAttack {
  readonly at: Beats;
  readonly grid: Beats;
}

export interface LaneSetting {
  readonly words: readonly LaneWord[];
  readonly attacks: readonly LaneAttack[];
}

const empty: LaneSetting = { words: [], attacks: [] };

/** How far a lead-in is drawn before the landing, at most: a hand's breadth of the beat. */
const longestLead: Beats = 0.5;

/** Sets a lane's words against its bars and beats, as they will sound, before anything is rendered. */
export function setLane(lane: Lane, slices: readonly NamedSlice[], heard: Heard): LaneSetting {
  return lane.source.kind === 'straight'
    ? setStraight(lane, lane.source, slices, heard)
    : setFlip(lane, lane.source.placements, slices, heard);
}

function setStraight(
  lane: Lane,
  source: { readonly from: Seconds; readonly until: Seconds },
  slices: readonly NamedSlice[],
  heard: Heard,
): LaneSetting {
  if (heard.beats.length < 2) return empty;
  const clock = makeBeatClock(heard.beats.map((beat) => beat.time));
  const fromBeat = Math.round(beatAt(clock, source.from));
  const beats = beatsOf(lane);
  const untilBeat = Math.min(
    Math.max(Math.round(beatAt(clock, source.until)), fromBeat + 1),
    fromBeat + beats,
  );
  const from = timeOfBeat(clock, fromBeat);
  const until = timeOfBeat(clock, untilBeat);
  const { map, landings } = steadyMap({ clock, fromBeat, untilBeat, lead: 0 }, heard.onsets, lane);
  const place = (time: Seconds): Beats => (mapTime(map, time) * lane.bpm) / 60;
  const inside = slices.filter(
    (slice) => slice.landing >= from - 0.06 && slice.landing < until - 0.06,
  );
  const last = untilBeat - fromBeat;
  const words = inside.map((slice, i): LaneWord => {
    const next = inside[i + 1];
    const at = Math.max(0, place(slice.landing));
    const end = Math.min(last, next ? place(next.start) : last, place(slice.end));
    return {
      id: slice.id,
      slice,
      placement: null,
      from: Math.max(0, place(slice.start)),
      at,
      until: Math.max(at + 0.02, end),
      soundFrom: slice.start,
      soundUntil: Math.max(slice.landing, timeBack(map, slice, end, lane)),
    };
  });
  return {
    words,
    attacks: landings.map(({ to, grid }) => ({
      at: (to * lane.bpm) / 60,
      grid: (grid * lane.bpm) / 60,
    })),
  };
}

/** The moment of the take that sounds at a position, no later than the slice's end. */
function timeBack(map: TimeMap, slice: NamedSlice, at: Beats, lane: Lane): Seconds {
  const to = (at * 60) / lane.bpm;
  const start = mapTime(map, slice.landing);
  const end = mapTime(map, slice.end);
  const share = end > start ? Math.min(1, (to - start) / (end - start)) : 1;
  return slice.landing + share * (slice.end - slice.landing);
}

function setFlip(
  lane: Lane,
  placements: readonly Placement[],
  slices: readonly NamedSlice[],
  heard: Heard,
): LaneSetting {
  const loop = beatsOf(lane);
  const clock = clockOf(heard.beats);
  const byId = new Map(slices.map((slice) => [slice.id, slice]));
  const sorted = [...placements].sort((a, b) => a.at - b.at);
  const words = sorted.flatMap((placement, i): LaneWord[] => {
    const slice = byId.get(placement.slice);
    if (!slice || placement.at >= loop) return [];
    const beat = lane.bpm / 60;
    // As it sounds: by the players' clock, and drawn out where it was lengthened.
    const lasts = placedBeats(placement, slice, lane, clock, heard.onsets);
    const next = sorted.find((other, k) => k > i && other.at > placement.at + 1e-9)?.at ?? loop;
    const room = placement.rings === 'next' ? next - placement.at : loop - placement.at;
    const length = Math.min(placement.length ?? lasts, lasts, room);
    const lead = Math.min((slice.landing - slice.start) * beat, longestLead, placement.at);
    return [
      {
        id: placement.id,
        slice,
        placement,
        from: placement.at - lead,
        at: placement.at,
        until: placement.at + Math.max(length, 0.04),
        soundFrom: slice.landing - lead / beat,
        soundUntil: slice.landing + (length / Math.max(lasts, 1e-9)) * (slice.end - slice.landing),
      },
    ];
  });
  return { words, attacks: [] };
}
