import { KernelRoom, ownKernels } from '../../math/kernel.ts';
import type { Seconds } from '../../math/units.ts';
import { type Net, netIn, Perceptron } from '../perceptron.ts';
import { BAR_INPUTS, barHabit } from './bar-place.ts';
import { CHORD_INPUTS, chordHabit } from './chords.ts';
import type { BeatEvidence } from './evidence.ts';
import { HOLD_INPUTS, holdHabit } from './holds.ts';
import type { Lesson } from './learning.ts';
import type { Recalled } from './memory.ts';
import { NEXT } from './next-weights.ts';
import { REACH } from './path.ts';
import { maskOf } from './patterns.ts';
import { RECALL_INPUTS, recallCounts } from './recall.ts';
import { describeInterval, type Interval, RHYTHM_INPUTS, type Rhythm, rhythmOf } from './rhythm.ts';
import { commonSaliences } from './salience.ts';
import { indexFrom } from './search.ts';
import { BITS } from './span.ts';
import type { LastFix } from './state.ts';
import { PARTS, type Tuning } from './tuning.ts';

/** All that is known of a take once beats are confirmed, and what the last fix said. */
export interface Known {
  readonly evidence: BeatEvidence;
  /** Beats confirmed, in rising order; two or more. */
  readonly confirmed: readonly Seconds[];
  readonly lesson: Lesson;
  /** Log odds of each onset to carry a beat, as confirmed beats taught them. */
  readonly salience: Float64Array;
  readonly recalled: Recalled;
  /** Onsets a second around each onset. */
  readonly rates: Float64Array;
  readonly fix: LastFix;
  readonly tuning: Tuning;
}

/** Numbers about the ends, what lies inside, the tempo, and the last fix. */
const ENDS = 7;
const INSIDE = 7;
const TEMPO = 11;
const FIX = 12;
/** Moves of tempo before the last known beat. */
const MOVES = 2;
/** Numbers that describe an interval. */
export const NEXT_INPUTS =
  RHYTHM_INPUTS +
  ENDS +
  INSIDE +
  TEMPO +
  CHORD_INPUTS +
  FIX +
  HOLD_INPUTS +
  RECALL_INPUTS +
  BAR_INPUTS +
  MOVES;

const FIXES = ['struck', 'near', 'half', 'far'] as const;
/** A beat this close to another one is the same. */
const SAME: Seconds = 0.04;
/** Confirmed intervals whose mean is looked at. */
const FEW = 4;
/** Beats from the last known one that are told apart. */
const FARTHEST = 8;

function isNear(beats: readonly Seconds[], time: Seconds): boolean {
  const i = indexFrom(beats, time - SAME);
  return i < beats.length && beats[i] <= time + SAME;
}

/**
 * Describes intervals after the last fix by their rhythm, and by how all of it compares with what the
 * confirmed beats taught: the tempo, how like confirmed beats the end is and what lies between, which onset
 * of a chord is counted; and by what the last fix refused.
 *
 * @returns what writes `NEXT_INPUTS` numbers for an interval
 */
export function describeNext(known: Known): (interval: Interval, out: Float32Array) => void {
  const { evidence, confirmed, lesson, salience, recalled, fix } = known;
  const { times } = evidence;
  const common = commonSaliences(evidence);
  const judged = rhythmOf(evidence);
  // A beat just set is known, too.
  const begin = confirmed[confirmed.length - 1];
  const beats = fix.kind !== 'struck' && fix.at > begin ? [...confirmed, fix.at] : confirmed;
  const habit = chordHabit(evidence, beats);
  const tempo = tempoAfter(beats, lesson);
  const hold = holdHabit(times, confirmed);
  const last = fixAfter(beats[beats.length - 1], fix);
  const recall = recallCounts(evidence, beats, begin + NEXT_REACH + REACH, known.tuning);
  const bar = barHabit(evidence, beats);
  const moves = lastMoves(beats);
  return (interval, out) => {
    describeInterval(evidence, common, interval, out);
    const { first, last: end } = interval;
    let at = RHYTHM_INPUTS;
    out[at++] = end < 0 ? 0 : salience[end];
    out[at++] = first < 0 ? 0 : salience[first];
    out[at++] = end < 0 ? 0 : 1;
    out[at++] = end < 0 ? 0 : recalled.near[end * PARTS];
    out[at++] = end < 0 ? 0 : recalled.passage[end * PARTS];
    out[at++] = end < 0 ? 0 : Math.log(recalled.totals[end] + 0.05);
    out[at++] = end < 0 ? 0 : Math.log(recalled.passageTotals[end] + 0.5);
    describeInside(known, interval, judged, out, at);
    at += INSIDE;
    tempo(interval, out, at);
    out[at + TEMPO - 1] = habit.silent;
    at += TEMPO;
    habit.describe(end, out, at);
    last(interval, out, at + CHORD_INPUTS);
    // Only from one onset to another is it known where nothing sounds.
    const silence = first < 0 || end < 1 ? 0 : times[end] - times[end - 1];
    at += CHORD_INPUTS + FIX;
    hold(silence, interval.end - interval.start, interval.parts, out, at);
    at += HOLD_INPUTS;
    recall(interval, out, at);
    at += RECALL_INPUTS;
    bar(interval, out, at);
    out.set(moves, at + BAR_INPUTS);
  };
}

/** What lies inside: what is most like a beat there, how its places recall confirmed ones, and how beats are filled. */
function describeInside(
  { evidence: { times }, lesson, salience, recalled, rates }: Known,
  interval: Interval,
  judged: Rhythm,
  out: Float32Array,
  to: number,
): void {
  const { first, last, start, end, parts } = interval;
  const { near, passage } = recalled;
  const length = (end - start) / parts;
  let like = -4;
  let nearBeat = -0.5;
  let passageBeat = -3;
  let nearPlaces = 0;
  let passagePlaces = 0;
  const until = indexFrom(times, end - 1e-6);
  for (let k = indexFrom(times, start + 1e-6); k < until; k++) {
    if (k === first || k === last) continue;
    like = Math.max(like, salience[k]);
    nearBeat = Math.max(nearBeat, near[k * PARTS]);
    passageBeat = Math.max(passageBeat, passage[k * PARTS]);
    const phase = (times[k] - start) / length;
    const place = Math.round((phase - Math.floor(phase)) * PARTS);
    if (place === 0 || place === PARTS) continue;
    nearPlaces += near[k * PARTS + place];
    passagePlaces += passage[k * PARTS + place];
  }
  let fill = 0;
  const dense = Math.min(0.9, ((rates[Math.max(0, first)] ?? 1) * length) / PARTS);
  const yes = Math.log(dense);
  const no = Math.log(1 - dense);
  for (let part = 0; part < parts; part++) {
    const from = start + part * length;
    const next = indexFrom(times, from + length);
    const mask = maskOf(times, indexFrom(times, from), next, from, length);
    const bits = BITS[mask];
    fill += lesson.patterns.logs[mask] - bits * yes - (PARTS - 1 - bits) * no;
  }
  out[to] = like;
  out[to + 1] = nearBeat;
  out[to + 2] = passageBeat;
  out[to + 3] = nearPlaces / parts;
  out[to + 4] = passagePlaces / parts;
  out[to + 5] = fill / parts;
  out[to + 6] = judged(interval);
}

/** How long an interval's beats are beside the confirmed ones, and how far from the last known beat it begins. */
function tempoAfter(beats: readonly Seconds[], { tempo, sounding }: Lesson) {
  const n = beats.length;
  const logs: number[] = [];
  for (let i = Math.max(1, n - FEW); i < n; i++) logs.push(Math.log(beats[i] - beats[i - 1]));
  const lastLog = logs[logs.length - 1];
  const few = logs.reduce((sum, log) => sum + log, 0) / logs.length;
  const usual = Math.exp(tempo.level);
  const anchor = beats[n - 1];
  return ({ start, end, parts }: Interval, out: Float32Array, to: number) => {
    const log = Math.log((end - start) / parts);
    out[to] = log - tempo.level;
    out[to + 1] = Math.min(5, Math.abs(log - tempo.level) / tempo.spread);
    out[to + 2] = log - lastLog;
    out[to + 3] = Math.min(8, Math.abs(log - lastLog) / tempo.freedom);
    out[to + 4] = log - few;
    out[to + 5] = Math.log(tempo.freedom);
    out[to + 6] = sounding;
    out[to + 7] = Math.log1p(n);
    out[to + 8] = Math.max(0, Math.min(FARTHEST, (start - anchor) / usual));
    out[to + 9] = Math.abs(start - anchor) < 1e-6 ? 1 : 0;
  };
}

/** How the last confirmed intervals moved, the last one first (natural log of the ratio). */
function lastMoves(beats: readonly Seconds[]): number[] {
  const n = beats.length;
  return Array.from({ length: MOVES }, (_, back) => {
    const i = n - 1 - back;
    return i < 2 ? 0 : Math.log((beats[i] - beats[i - 1]) / (beats[i - 1] - beats[i - 2]));
  });
}

/** Whether an interval keeps what the last fix refused: beats shown before it, and the one struck out. */
function fixAfter(anchor: Seconds, { kind, at, shown }: LastFix) {
  const which = FIXES.indexOf(kind);
  return ({ start, end, parts }: Interval, out: Float32Array, to: number) => {
    out.fill(0, to, to + FIX);
    const was = isNear(shown, end) ? 1 : -1;
    out[to + which] = 1;
    out[to + 4] = was;
    out[to + 5] = isNear(shown, start) ? 1 : -1;
    out[to + 6 + which] = was;
    if (kind !== 'struck') return;
    const ratio = (end - start) / parts / (at - start);
    if (Math.abs(start - anchor) < 1e-6 && at > start)
      out[to + 10] = Math.max(-2, Math.min(2, Math.log(ratio)));
    out[to + 11] = 1 / (1 + Math.abs(end - at) / 0.1);
  };
}

/** Intervals that begin this long after the last confirmed beat are judged; further ones the next fix brings nearer. */
export const NEXT_REACH: Seconds = 15;

/** No judgement is more than this, for or against. */
export const MOST_NEXT = 7.5;

let net: Net | undefined;

function taughtNet(): Net {
  const plain = new Perceptron(NEXT);
  const kernel = ownKernels();
  return kernel ? netIn(kernel, new KernelRoom(kernel), plain) : plain;
}

/**
 * What speaks for intervals being the next beats after a fix, as natural logs of odds, beside all that the
 * path counts anyway: as the network hears it that tests/bench/fit-next-beat.ts taught.
 */
export function nextBeats(known: Known): (interval: Interval) => number {
  net ??= taughtNet();
  const taught = net;
  const describe = describeNext(known);
  const inputs = new Float32Array(NEXT_INPUTS);
  return (interval) => {
    describe(interval, inputs);
    return MOST_NEXT * Math.tanh(taught.odds(inputs, 0));
  };
}
