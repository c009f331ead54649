import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { Beat } from '../../shared/hear/heard.ts';
import type { LaneSource } from '../../shared/loop/lane.ts';
import type { Bpm, Seconds } from '../../shared/math/units.ts';
import { beatAt, makeBeatClock, medianTempo } from '../../shared/time/beat-clock.ts';
import { nearestGridPoint } from '../../shared/time/grid.ts';
import { type LaneSettings, plainLane } from '../store/lane-commands.ts';
import { plainPlacement } from '../store/placement-commands.ts';

/** A lane as a stretch of the take suggests it. */
export interface SuggestedLane {
  readonly source: LaneSource;
  readonly settings: Partial<LaneSettings>;
}

/** How many beats the bars heard have, by majority; 4 where none are counted. */
export function metreOf(beats: readonly Beat[]): number {
  const votes = new Map<number, number>();
  beats.forEach((beat, i) => {
    if (beats[i + 1]?.count === 1) votes.set(beat.count, (votes.get(beat.count) ?? 0) + 1);
  });
  const best = [...votes].sort((a, b) => b[1] - a[1])[0]?.[0] ?? 4;
  return best >= 2 && best <= 12 ? best : 4;
}

function indexNear(beats: readonly Beat[], time: Seconds): number {
  let best = 0;
  beats.forEach((beat, i) => {
    if (Math.abs(beat.time - time) < Math.abs((beats[best] as Beat).time - time)) best = i;
  });
  return best;
}

/**
 * A straight loop of a stretch: from the beat nearest its start (the one, where a one is as near as half a
 * bar), in whole bars, at its own rounded median tempo. Nothing after the stretch is in it. Null where fewer
 * than two beats are known there.
 */
export function suggestStraight(
  beats: readonly Beat[],
  from: Seconds,
  until: Seconds,
): SuggestedLane | null {
  if (beats.length < 2) return null;
  const beatsPerBar = metreOf(beats);
  let first = indexNear(beats, from);
  const half = Math.floor(beatsPerBar / 2);
  for (let k = 0; k <= half; k++) {
    const one = [first - k, first + k].find((i) => beats[i]?.count === 1);
    if (one !== undefined) {
      first = one;
      break;
    }
  }
  const last = Math.max(indexNear(beats, until), first + 1);
  // Half a bar over is left out, so that the loop closes on sound; more makes a bar more.
  const bars = Math.min(Math.max(Math.ceil((last - first) / beatsPerBar - 0.5), 1), 64);
  // A bar that the stretch leaves unfinished rings out: what comes next in the take is other music.
  const end = Math.min(first + bars * beatsPerBar, last);
  const start = beats[first];
  const stop = beats[end];
  if (!start || !stop || stop.time <= start.time) return null;
  const bpm = tempoWithin(beats, first, end);
  return {
    source: { kind: 'straight', from: start.time, until: stop.time },
    settings: { bars, beatsPerBar, bpm },
  };
}

/** A flip that begins as the slices were played: each at the grid point nearest to its own place. */
export function suggestFlip(
  beats: readonly Beat[],
  slices: readonly NamedSlice[],
): SuggestedLane | null {
  const first = slices[0];
  if (!first) return null;
  const beatsPerBar = metreOf(beats);
  if (beats.length < 2) {
    const placements = slices.map((slice, i) => ({
      ...plainPlacement,
      id: `p${i + 1}`,
      slice: slice.id,
      at: i,
    }));
    const bars = Math.ceil(slices.length / beatsPerBar);
    return { source: { kind: 'flip', placements }, settings: { bars, beatsPerBar } };
  }
  const clock = makeBeatClock(beats.map((beat) => beat.time));
  const start = Math.round(beatAt(clock, first.landing));
  const places = slices.map((slice) =>
    Math.max(0, nearestGridPoint(beatAt(clock, slice.landing) - start, plainLane.grid, 50)),
  );
  const last = slices[slices.length - 1] ?? first;
  const beatsLong = Math.max(...places, beatAt(clock, last.end) - start);
  const bars = Math.min(Math.max(Math.ceil(beatsLong / beatsPerBar - 0.2), 1), 64);
  const placements = slices.flatMap((slice, i) => {
    const at = places[i] ?? 0;
    if (at >= bars * beatsPerBar) return [];
    return [{ ...plainPlacement, id: `p${i + 1}`, slice: slice.id, at }];
  });
  const bpm = tempoWithin(beats, indexNear(beats, first.landing), indexNear(beats, last.end));
  return { source: { kind: 'flip', placements }, settings: { bars, beatsPerBar, bpm } };
}

function tempoWithin(beats: readonly Beat[], first: number, last: number): Bpm {
  const times = beats.slice(first, Math.max(last, first + 1) + 1).map((beat) => beat.time);
  const whole = beats.map((beat) => beat.time);
  return Math.round(medianTempo(times.length > 1 ? times : whole));
}
