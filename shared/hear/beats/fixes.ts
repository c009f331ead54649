import type { Seconds } from '../../math/units.ts';
import type { Fix } from '../heard.ts';
import { evenBeats, keepsTempo } from './even.ts';
import type { BeatEvidence } from './evidence.ts';
import { type Certain, type Choices, choicesFor, inferPath } from './inference.ts';
import { lastFixBy, levelStruck, SHOWN, withSetBeat } from './last-fix.ts';
import { learn, learnUnsure } from './learning.ts';
import { changeLevel, shiftBars, shiftHalf } from './level.ts';
import { NO_MEMORY, remember } from './memory.ts';
import { oneLevel } from './octaves.ts';
import type { TempoModel } from './path.ts';
import { commonSaliences } from './salience.ts';
import { type BeatState, intervalAt, NOTHING_KNOWN, nearestBeat } from './state.ts';
import { steadiness, struckShare, tuningFor } from './steady.ts';
import { tapAlong } from './taps.ts';

/** Beats set this close to each other are one beat: the later one. */
const ONE_BEAT: Seconds = 0.02;

/** With fewer onsets, or onsets less clear (see `BeatEvidence.clarity`), no beat is found. */
const FEWEST = 4;
const CLEAR = 0.45;

/** Share of steady players' beats that have an onset. */
const STRUCK = 0.9;

/** Misplaced beats struck, after which that is taken for the user's way. */
const OFTEN = 2;

/** Beats before any fix; none where nothing sounds like somebody's beat. */
export function startBeats(evidence: BeatEvidence): BeatState {
  if (evidence.times.length < FEWEST || evidence.clarity < CLEAR) return NOTHING_KNOWN;
  const free = inferred(evidence, NOTHING_KNOWN);
  let steady = steadiness(free.times);
  if (steady < 1) {
    // Free hearing may wander where players are steady: heard as steady, they are if they strike nearly every beat.
    const even = inferred(evidence, { ...NOTHING_KNOWN, tuning: tuningFor(1) }).times;
    const holds = steadiness(even) === 1 && struckShare(evidence.times, even) >= STRUCK;
    if (holds) steady = 1;
  }
  if (steady === 0) return atOneLevel(evidence, free);
  const state = inferred(evidence, { ...NOTHING_KNOWN, tuning: tuningFor(steady) });
  return atOneLevel(evidence, steady === 1 ? evenWhereKept(evidence, state) : state);
}

/** Steady playing, evened where the players keep a tempo rather than follow one. */
function evenWhereKept(evidence: BeatEvidence, state: BeatState): BeatState {
  const odds = commonSaliences(evidence);
  if (!keepsTempo(state.times, evidence.times, odds)) return state;
  const times = state.times.slice();
  evenBeats(times, 0, new Set(), evidence.times, odds);
  return { ...state, times, tuning: { ...state.tuning, even: 1 } };
}

/** How firmly a level holds that most of the take is heard at: as in `TUNING`. */
const USUAL = { spread: 0.2, levelWeight: 1.5, keep: 2 };

/** Beats heard again along those of one level, where some stretch was heard with twice as many. */
function atOneLevel(evidence: BeatEvidence, state: BeatState): BeatState {
  const even = oneLevel(evidence, state.times);
  if (!even) return state;
  const freedom = Math.min(state.tuning.freedom, even.freedom);
  const tuning = { ...state.tuning, ...USUAL, level: even.level, freedom };
  return {
    ...state,
    times: inferred(evidence, { ...NOTHING_KNOWN, tuning, likely: even.times }).times,
  };
}

/**
 * Beats after one more fix. What the user passed over on the way to it is confirmed: beats further
 * left stay as they are and teach; all further right is inferred again.
 */
export function fixBeats(evidence: BeatEvidence, before: BeatState, fix: Fix): BeatState {
  const state = { ...before, lastFix: lastFixBy(before, fix) };
  if ('beat' in fix) {
    const set = setBeat(evidence, state, fix.beat, fix.by ?? 'tapped');
    return inferred(
      evidence,
      isTap(state, fix) ? tapAlong(state, set, fix.beat) : { ...set, taps: [] },
    );
  }
  return otherFix(evidence, state.taps.length > 0 ? { ...state, taps: [] } : state, fix);
}

/** Who sets a beat where one is shown already taps along, too. */
function isTap({ times }: BeatState, { beat, by }: Extract<Fix, { beat: unknown }>): boolean {
  return by === 'tapped' || (by === undefined && times.some((one) => Math.abs(one - beat) < SHOWN));
}

function otherFix(
  evidence: BeatEvidence,
  state: BeatState,
  fix: Exclude<Fix, { beat: unknown }>,
): BeatState {
  if ('notBeat' in fix) {
    const struck = strikeBeat(state, fix.notBeat);
    return struck === state ? state : inferred(evidence, struck);
  }
  if ('one' in fix) return nameOne(state, fix.one);
  if ('level' in fix) return changeLevel(evidence, state, fix);
  if ('shift' in fix)
    return fix.shift === 'half'
      ? shiftHalf(evidence, state, fix.from)
      : shiftBars(evidence, state, fix.from);
  return inferred(evidence, { ...state, freeFrom: fix.free, memory: NO_MEMORY });
}

/** Beats that were confirmed and lie right of where the user is now. */
function stillLikely(
  state: BeatState,
  confirmed: Seconds,
  around: Seconds,
  reach: Seconds,
): Seconds[] {
  const passed = state.times.filter((time) => time > confirmed && time <= state.confirmed);
  const later = state.likely.filter((time) => time > Math.max(confirmed, state.confirmed));
  return [...passed, ...later].filter((time) => Math.abs(time - around) > reach);
}

function setBeat(
  { times: onsets }: BeatEvidence,
  state: BeatState,
  beat: Seconds,
  by: 'tapped' | 'moved',
): BeatState {
  const { times } = state;
  const interval = intervalAt(times, beat);
  const kept = times.filter((time) => time < beat - 1e-9);
  const next = times.find((time) => time > beat + 1e-9);
  const last = kept[kept.length - 1];
  let gone: Seconds | undefined;
  if (last !== undefined) {
    const pinned = by !== 'moved' && state.pinned.some((one) => one.time === last);
    const sure = pinned || (by !== 'moved' && last <= state.confirmed);
    const sounds = struckShare(onsets, [last]) === 1;
    const moves = sure
      ? beat - last < 0.1 * interval
      : movesLast(kept, beat, next ?? Infinity, interval, sounds);
    if (pinned ? beat - last < ONE_BEAT : moves) gone = kept.pop();
  }
  // A set beat that the user drags goes, wherever it was taken from.
  const dragged =
    by === 'moved' && gone === undefined && next !== undefined && next - beat < 0.5 * interval
      ? next
      : undefined;
  const confirmed = kept[kept.length - 1] ?? -Infinity;
  const pinned = state.pinned.filter(
    (one) => one.time !== gone && one.time !== dragged && Math.abs(one.time - beat) >= ONE_BEAT,
  );
  return {
    ...state,
    times: [...kept, beat],
    pinned: [...pinned, { time: beat, by }].sort((a, b) => a.time - b.time),
    struck: state.struck
      .filter((zone) => Math.abs(zone.at - beat) >= ONE_BEAT)
      .map((zone) =>
        beat > zone.at
          ? { ...zone, until: Math.min(zone.until, beat) }
          : { ...zone, from: Math.max(zone.from, beat) },
      ),
    misplaced:
      state.misplaced +
      (state.struck.some((zone) => beat > zone.at + ONE_BEAT && beat < zone.until) ? 1 : 0),
    confirmed,
    likely: stillLikely(state, confirmed, beat, 0.4 * interval),
  };
}

/** What speaks for a beat being moved by a set one, as natural logs of odds: evenness, nearness, that it sounds. */
const MOVES = { even: 3.4, near: 1.35, sounds: 2.9, bias: 1.5 };

/**
 * Whether a beat set at `time` is the last shown one before it, moved, rather than the next one or a new one:
 * where the tempo goes on more evenly without the last one than with it, the next one is further away, and nothing
 * sounds on the last one.
 */
function movesLast(
  shown: readonly Seconds[],
  time: Seconds,
  next: Seconds,
  interval: Seconds,
  sounds: boolean,
): boolean {
  const near = shown[shown.length - 1];
  const apart = time - near;
  if (shown.length < 2) return apart < 0.4 * interval;
  const before = shown[shown.length - 2];
  if (apart < 0.15 * (time - before)) return true;
  if (apart > 0.5 * (time - before)) return false;
  const usual = shown.length > 2 ? before - shown[shown.length - 3] : interval;
  const move = (one: Seconds, other: Seconds) => Math.abs(Math.log(one / other));
  const kept = move(near - before, usual) + move(apart, near - before);
  const nearer = Math.log(apart / (Math.min(next - time, 3) + 0.02));
  return (
    MOVES.bias +
      MOVES.even * (kept - move(time - before, usual)) -
      MOVES.near * nearer -
      (sounds ? MOVES.sounds : 0) >
    0
  );
}

function strikeBeat(state: BeatState, time: Seconds): BeatState {
  const { times } = state;
  const near = nearestBeat(times, time);
  if (near < 0) return state;
  const at = times[near];
  const before = near > 0 ? times[near - 1] : undefined;
  const after = times[near + 1];
  const left = before === undefined ? (after === undefined ? 0.6 : after - at) : at - before;
  const right = after === undefined ? left : after - at;
  if (Math.abs(time - at) > 0.5 * (time < at ? left : right) + 1e-9) return state;
  const confirmed = before ?? -Infinity;
  return {
    ...state,
    pinned: state.pinned.filter((one) => one.time !== at),
    // Up to the middle of the gaps on both sides, so that the next beat moves rather than this one coming back beside
    // itself; unless this user strikes beats that only lie a little wrong.
    struck: [
      ...state.struck.filter((zone) => zone.at !== at),
      { at, from: at - left / 2, until: at + right * (state.misplaced < OFTEN ? 0.5 : 0.2) },
    ],
    confirmed,
    likely: stillLikely(state, confirmed, at, 0.5 * Math.min(left, right)),
  };
}

/** A bar starts at the beat there; that beat stays. */
function nameOne(state: BeatState, time: Seconds): BeatState {
  const near = nearestBeat(state.times, time);
  if (near < 0) return state;
  const one = state.times[near];
  const known = state.pinned.some((pinned) => pinned.time === one);
  const pinned = known
    ? state.pinned
    : [...state.pinned, { time: one, by: 'heard' } as const].sort((a, b) => a.time - b.time);
  return { ...state, pinned, ones: [...state.ones, one] };
}

/** What the beats right of the confirmed ones are chosen from, and how the tempo may move there. */
export function heardAfter(
  evidence: BeatEvidence,
  state: BeatState,
): { readonly choices: Choices | Seconds[]; readonly tempo: TempoModel } {
  const { lesson, certain, memory } = knownAt(evidence, state);
  const choices = choicesFor(evidence, certain, lesson, memory, state.tuning);
  return { choices, tempo: lesson.tempo };
}

/** From this weight of the network for the next beats on players are free. */
const FREE = 0.9;

/** Free players' beats are heard twice while none is confirmed: what was heard first says how they play. */
function inferred(evidence: BeatEvidence, state: BeatState): BeatState {
  const { lesson, certain, memory } = knownAt(evidence, state);
  const { tuning } = state;
  const times = inferPath(evidence, certain, lesson, memory, tuning);
  if (certain.locked.length > 0 || tuning.nextWeight < FREE) return { ...state, times, memory };
  const own = learnUnsure(evidence, times, lesson, state.level, tuning);
  return { ...state, times: inferPath(evidence, certain, own, memory, tuning), memory };
}

/** What is certain in a state and what it has taught. */
function knownAt(evidence: BeatEvidence, state: BeatState) {
  const { tuning } = state;
  const locked = state.times.filter((time) => time <= state.confirmed);
  const teaching = withSetBeat(locked, state).filter((time) => time >= state.freeFrom);
  const certain: Certain = {
    locked,
    set: state.pinned.map((one) => one.time),
    struck: state.struck,
    likely: state.likely,
    freeFrom: state.freeFrom,
    lastFix: state.lastFix,
  };
  return {
    lesson: learn(evidence, teaching, state.level ?? levelStruck(state, locked), tuning),
    certain,
    memory: remember(evidence, state.memory, teaching, tuning),
  };
}
