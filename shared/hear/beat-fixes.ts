import type { Seconds } from '../math/units.ts';
import type { BeatEvidence } from './beat-evidence.ts';
import { inferPath } from './beat-inference.ts';
import { learn } from './beat-learning.ts';
import { type Memory, NO_MEMORY, remember } from './beat-memory.ts';
import { TUNING } from './beat-tuning.ts';
import type { Fix } from './heard.ts';

/** Beats inferred so far, and all that the user's fixes have said. */
export interface BeatState {
  readonly times: readonly Seconds[];
  /** Beats that the user set. */
  readonly set: readonly { readonly time: Seconds; readonly by: 'tapped' | 'moved' }[];
  /** Stretches in which no beat lies. */
  readonly struck: readonly { readonly from: Seconds; readonly until: Seconds }[];
  readonly ones: readonly Seconds[];
  /** Beats up to here are confirmed: the user passed over them on the way to the last fix. */
  readonly confirmed: Seconds;
  readonly memory: Memory;
}

/** A beat set this soon after a shown one, as a share of the time from the one before it, is that one moved. */
const MOVED = 0.28;

/** Beats before any fix. */
export function startBeats(evidence: BeatEvidence): BeatState {
  const none: BeatState = {
    times: [],
    set: [],
    struck: [],
    ones: [],
    confirmed: -1,
    memory: NO_MEMORY,
  };
  return { ...none, ...infer(evidence, none) };
}

/** Beats after one more fix. */
export function fixBeats(evidence: BeatEvidence, state: BeatState, fix: Fix): BeatState {
  const next = applied(state, fix);
  return { ...next, ...infer(evidence, next) };
}

/** Length of the beat around `time` by the beats shown. */
function intervalAt(times: readonly Seconds[], time: Seconds): Seconds {
  if (times.length < 2) return 0.6;
  let i = 1;
  while (i < times.length - 1 && times[i] <= time) i++;
  return times[i] - times[i - 1];
}

function applied(state: BeatState, fix: Fix): BeatState {
  const { times, struck, set } = state;
  if ('beat' in fix) {
    const interval = intervalAt(times, fix.beat);
    const kept = times.filter((time) => time < fix.beat - 1e-6);
    const last = kept.length - 1;
    if (last >= 0) {
      const certain = kept[last] <= state.confirmed || set.some((one) => one.time === kept[last]);
      const whole = last > 0 ? fix.beat - kept[last - 1] : 1.5 * interval;
      if (fix.beat - kept[last] < (certain ? 0.1 : MOVED) * whole) kept.pop();
    }
    const confirmed = kept.length > 0 ? kept[kept.length - 1] : -1;
    return {
      ...state,
      times: [...kept, fix.beat],
      set: [
        ...set.filter((one) => one.time > fix.beat + 0.15 * interval || kept.includes(one.time)),
        { time: fix.beat, by: fix.by ?? 'tapped' },
      ].sort((a, b) => a.time - b.time),
      struck: struck.filter((zone) => zone.until < fix.beat || zone.from > fix.beat),
      confirmed,
    };
  }
  if ('notBeat' in fix) {
    let near = -1;
    for (let i = 0; i < times.length; i++)
      if (near < 0 || Math.abs(times[i] - fix.notBeat) < Math.abs(times[near] - fix.notBeat))
        near = i;
    if (near < 0) return state;
    const time = times[near];
    const before = near > 0 ? times[near - 1] : time - 0.6;
    const after = near + 1 < times.length ? times[near + 1] : time + 0.6;
    return {
      ...state,
      set: set.filter((one) => one.time !== time),
      struck: [...struck, { from: (before + time) / 2, until: (time + after) / 2 }],
      confirmed: near > 0 ? before : -1,
    };
  }
  if ('one' in fix) return { ...state, ones: [...state.ones, fix.one] };
  return state;
}

function infer(evidence: BeatEvidence, state: BeatState): Pick<BeatState, 'times' | 'memory'> {
  const locked = state.times.filter((time) => time <= state.confirmed);
  const lesson = learn(evidence, locked, TUNING);
  const memory = remember(evidence, state.memory, locked, TUNING);
  const certain = {
    locked,
    set: state.set.map((one) => one.time),
    struck: state.struck,
    likely: [],
  };
  return { times: inferPath(evidence, certain, lesson, memory, TUNING), memory };
}
