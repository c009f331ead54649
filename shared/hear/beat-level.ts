import type { Seconds } from '../math/units.ts';
import type { BeatEvidence } from './beat-evidence.ts';
import { commonSalience, saliences } from './beat-salience.ts';
import { indexFrom } from './beat-search.ts';
import { type BeatState, nearestBeat } from './beat-state.ts';

/** A new beat lies on an onset this near to the middle, as a share of the old interval. */
const NEAR = 0.12;

/** The onset nearest to the middle between two beats, or the middle itself. */
export function middle(evidence: BeatEvidence, from: Seconds, until: Seconds): Seconds {
  const { times } = evidence;
  const half = (from + until) / 2;
  const next = indexFrom(times, half);
  let best = half;
  let apart = NEAR * (until - from);
  for (const i of [next - 1, next])
    if (i >= 0 && i < times.length && Math.abs(times[i] - half) < apart) {
      best = times[i];
      apart = Math.abs(best - half);
    }
  return best;
}

/** How much like beats these are, by the onsets on them. */
function likeBeats(
  evidence: BeatEvidence,
  beats: readonly Seconds[],
  salience: Float64Array,
): number {
  let sum = 0;
  for (const beat of beats) {
    const i = indexFrom(evidence.times, beat - 0.03);
    sum += i < evidence.times.length && evidence.times[i] < beat + 0.03 ? salience[i] : -1;
  }
  return sum / Math.max(1, beats.length);
}

/** Every second beat: of the two ways the one that keeps more of `kept`, else whose onsets are more like beats. */
export function halved(
  evidence: BeatEvidence,
  beats: readonly Seconds[],
  kept: readonly Seconds[] = [],
): Seconds[] {
  const salience = saliences(evidence, commonSalience());
  const ways = [0, 1].map((phase) => beats.filter((_, i) => i % 2 === phase));
  const [even, odd] = ways.map(
    (way) =>
      likeBeats(evidence, way, salience) + 10 * kept.filter((one) => way.includes(one)).length,
  );
  return even >= odd ? ways[0] : ways[1];
}

function logMedianInterval(times: readonly Seconds[]): number | undefined {
  const logs = times.slice(1).map((time, i) => Math.log(time - times[i]));
  logs.sort((a, b) => a - b);
  return logs[logs.length >> 1];
}

/**
 * Twice or half as many beats from a place on. Of two ways to halve, that stays which keeps beats the
 * user set, else the one whose onsets are more like beats.
 */
export function changeLevel(
  evidence: BeatEvidence,
  state: BeatState,
  change: 'double' | 'half',
  from: Seconds,
): BeatState {
  const { times } = state;
  const first = Math.max(0, from === -Infinity ? 0 : nearestBeat(times, from));
  const before = times.slice(0, first);
  const after = times.slice(first);
  let changed: Seconds[] = [];
  if (change === 'double') {
    for (const [i, time] of after.entries()) {
      changed.push(time);
      if (i + 1 < after.length) changed.push(middle(evidence, time, after[i + 1]));
    }
  } else {
    // From a place that the user points at, that very beat stays.
    changed =
      from > -Infinity
        ? after.filter((_, i) => i % 2 === 0)
        : halved(
            evidence,
            after,
            state.pinned.map((one) => one.time),
          );
  }
  const kept = new Set([...before, ...changed]);
  return {
    ...state,
    times: [...before, ...changed],
    pinned: state.pinned.filter((one) => kept.has(one.time)),
    struck: state.struck.filter((zone) => zone.at < (after[0] ?? Infinity)),
    ones: state.ones.filter(
      (one) => one < (after[0] ?? 0) - 0.03 || [...kept].some((t) => Math.abs(t - one) < 0.03),
    ),
    confirmed: Math.min(state.confirmed, before[before.length - 1] ?? -Infinity),
    likely: changed,
    level: logMedianInterval(changed) ?? state.level,
  };
}

/** Every beat moves to the middle between it and the next. */
export function shiftHalf(evidence: BeatEvidence, state: BeatState): BeatState {
  const { times } = state;
  const shifted = times.slice(1).map((time, i) => middle(evidence, times[i], time));
  const ones = state.ones.flatMap((one) => {
    const i = nearestBeat(times, one);
    return i >= 0 && i < shifted.length ? [shifted[i]] : [];
  });
  return {
    ...state,
    times: shifted,
    pinned: [],
    struck: [],
    ones,
    confirmed: -Infinity,
    likely: shifted,
    level: logMedianInterval(shifted) ?? state.level,
  };
}
