import type { Seconds } from '../math/units.ts';
import type { BeatEvidence } from './beat-evidence.ts';
import { findPath, type TempoModel } from './beat-path.ts';
import { COMMON_SALIENCE, saliences } from './beat-salience.ts';
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
}

const COMMON_TEMPO: TempoModel = {
  freedom: 0.1,
  jitter: 0.02,
  level: Math.log(0.55),
  spread: 0.5,
  levelWeight: 0.5,
  silence: 3,
};
/** An onset this close to a beat that the user set is that beat's own. */
const SAME = 0.045;

/** Beats before any fix. */
export function startBeats(evidence: BeatEvidence): BeatState {
  const none: BeatState = { times: [], set: [], struck: [], ones: [], confirmed: -1 };
  return { ...none, times: infer(evidence, none) };
}

/** Beats after one more fix. */
export function fixBeats(evidence: BeatEvidence, state: BeatState, fix: Fix): BeatState {
  const next = applied(state, fix);
  return { ...next, times: infer(evidence, next) };
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
    const reach = 0.3 * intervalAt(times, fix.beat);
    const kept = times.filter((time) => time < fix.beat - reach);
    const confirmed = kept.length > 0 ? kept[kept.length - 1] : -1;
    return {
      ...state,
      times: [...kept, fix.beat],
      set: [
        ...set.filter((one) => Math.abs(one.time - fix.beat) > reach),
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

function infer(evidence: BeatEvidence, state: BeatState): Seconds[] {
  const all = saliences(evidence, COMMON_SALIENCE);
  const locked = state.times.filter((time) => time <= state.confirmed);
  const begin = locked.length > 0 ? locked[locked.length - 1] : -Infinity;
  const times: number[] = [];
  const scores: number[] = [];
  const must: number[] = [];
  if (locked.length > 0) {
    times.push(begin);
    scores.push(0);
    must.push(1);
  }
  const ahead = state.set.filter((one) => one.time > begin);
  let a = 0;
  for (let i = 0; i <= evidence.times.length; i++) {
    const time = i < evidence.times.length ? evidence.times[i] : Infinity;
    for (; a < ahead.length && ahead[a].time <= time; a++) {
      times.push(ahead[a].time);
      scores.push(0);
      must.push(1);
    }
    if (time === Infinity) break;
    if (time <= begin + SAME || ahead.some((one) => Math.abs(one.time - time) < SAME)) continue;
    if (state.struck.some((zone) => time > zone.from && time < zone.until)) continue;
    times.push(time);
    scores.push(all[i]);
    must.push(0);
  }
  const n = times.length;
  if (n < 2) return [...locked, ...times.slice(locked.length > 0 ? 1 : 0)];
  let endFrom = n - 1;
  while (endFrom > 0 && times[endFrom - 1] > times[n - 1] - 2 && !must[endFrom]) endFrom--;
  let starts = 1;
  if (locked.length === 0)
    while (starts < n && times[starts] < times[0] + 2.5 && !must[starts - 1]) starts++;
  const path = findPath(
    {
      times: Float64Array.from(times),
      scores: Float64Array.from(scores),
      must: Uint8Array.from(must),
      starts,
      endFrom,
      interval: locked.length > 1 ? begin - locked[locked.length - 2] : undefined,
    },
    COMMON_TEMPO,
    () => 0,
  );
  return [...locked.slice(0, -1), ...path.times];
}
