import type { Seconds } from '../../math/units.ts';
import type { Fix } from '../heard.ts';
import { countsOf } from './counts.ts';
import type { BeatEvidence } from './evidence.ts';
import { commonSaliences } from './salience.ts';
import { indexFrom } from './search.ts';
import { type BeatState, nearestBeat } from './state.ts';

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
  const salience = commonSaliences(evidence);
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

/** The beat nearest to a place, or the first. */
function beatFrom(times: readonly Seconds[], from: Seconds | undefined): number {
  return from === undefined ? 0 : Math.max(0, nearestBeat(times, from));
}

/**
 * Twice or half as many beats from a place on, or all through. Of two ways to halve, that stays which has
 * the beat that the user points at (`keep`, else `from`), else which keeps beats they set, else whose onsets
 * are more like beats.
 */
export function changeLevel(
  evidence: BeatEvidence,
  state: BeatState,
  { level, from, keep = from }: Extract<Fix, { level: unknown }>,
): BeatState {
  const first = beatFrom(state.times, from);
  const before = state.times.slice(0, first);
  const after = state.times.slice(first);
  let changed: Seconds[];
  if (level === 'double')
    changed = after.flatMap((time, i) =>
      i + 1 < after.length ? [time, middle(evidence, time, after[i + 1])] : [time],
    );
  else if (keep === undefined)
    changed = halved(
      evidence,
      after,
      state.pinned.map((one) => one.time),
    );
  else {
    const phase = beatFrom(after, keep) % 2;
    changed = after.filter((_, i) => i % 2 === phase);
  }
  const kept = new Set([...before, ...changed]);
  const near = (one: Seconds) => [...kept].some((time) => Math.abs(time - one) < 0.03);
  const start = after[0] ?? Infinity;
  return {
    ...withOthers(state, before, changed, start),
    pinned: state.pinned.filter((one) => kept.has(one.time)),
    ones: state.ones.filter((one) => one < start - 0.03 || near(one)),
    // Bars of other beats: what was said of the old ones does not carry over.
    late: state.late.filter((one) => one.from < start),
  };
}

/** The state with other beats from `start` on, where nothing of the old ones is struck or confirmed any more. */
function withOthers(
  state: BeatState,
  before: readonly Seconds[],
  others: readonly Seconds[],
  start: Seconds,
): BeatState {
  return {
    ...state,
    times: [...before, ...others],
    struck: state.struck.filter((zone) => zone.at < start),
    confirmed: Math.min(state.confirmed, before[before.length - 1] ?? -Infinity),
    likely: others,
    level: logMedianInterval(others) ?? state.level,
  };
}

/** From a place on, or all through, every beat moves to the middle between it and the next. */
export function shiftHalf(
  evidence: BeatEvidence,
  state: BeatState,
  from: Seconds | undefined,
): BeatState {
  const { times } = state;
  const first = beatFrom(times, from);
  const before = times.slice(0, first);
  const start = times[first] ?? Infinity;
  const shifted = times.slice(first + 1).map((time, i) => middle(evidence, times[first + i], time));
  const ones = state.ones.flatMap((one) => {
    const i = nearestBeat(times, one) - first;
    return i < 0 ? [one] : i < shifted.length ? [shifted[i]] : [];
  });
  return {
    ...withOthers(state, before, shifted, start),
    pinned: state.pinned.filter((one) => one.time < start),
    ones,
  };
}

/**
 * From a place on, or all through, every bar starts a beat later; the beats stay. From a place on the
 * first bar there is named, so that it holds whatever is heard before.
 */
export function shiftBars(
  evidence: BeatEvidence,
  state: BeatState,
  from: Seconds | undefined,
): BeatState {
  const { times } = state;
  const first = beatFrom(times, from);
  const next = (one: Seconds) =>
    times.slice(nearestBeat(times, one) + 1, nearestBeat(times, one) + 2);
  const ones = state.ones.flatMap((one) => (nearestBeat(times, one) < first ? [one] : next(one)));
  if (from === undefined)
    return { ...state, ones, late: [...state.late, { from: -Infinity, beats: 1 }] };
  const bar = countsOf(evidence, state).indexOf(1, first);
  return {
    ...state,
    ones: bar < 0 ? ones : [...ones, ...next(times[bar])],
    late: [...state.late, { from: times[first] ?? Infinity, beats: 1 }],
  };
}
