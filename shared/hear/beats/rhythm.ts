import { KernelRoom, type Kernels, ownKernels } from '../../math/kernel.ts';
import type { Seconds } from '../../math/units.ts';
import { keepNet, Perceptron } from '../perceptron.ts';
import { CUE_NAMES, CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';
import { REACH } from './path.ts';
import { commonSaliences } from './salience.ts';
import { indexFrom } from './search.ts';
import { PARTS } from './tuning.ts';
import { RHYTHM } from './weights.ts';

/** Cues of the onsets at both ends that are looked at. */
const OWN = (['bassRise', 'strength', 'change', 'wait', 'energy'] as const).map((name) =>
  CUE_NAMES.indexOf(name),
);
/** Beats from one place to another that are told apart; with more the network is not asked. */
const MOST_PARTS = 3;
/** Places in the beat before, inside, at beats without an onset, and in the beat after. */
const SLOTS = PARTS + (PARTS - 1) + 1 + PARTS;
const SILENT = 2 * PARTS - 1;
/** How far beside an interval onsets are looked at, in beats; least that one of them is like a beat. */
const MARGIN = 1 + 0.72 / PARTS;
const UNLIKE = -4;
/** Numbers that describe an interval. */
export const RHYTHM_INPUTS = 5 + MOST_PARTS + 2 * OWN.length + 2 * SLOTS + 1;

/** An interval from one onset to another (-1 for none), divided into beats. */
export interface Interval {
  readonly first: number;
  readonly last: number;
  readonly start: Seconds;
  readonly end: Seconds;
  readonly parts: number;
}

/**
 * Describes an interval: how long its beats are, how like beats its ends and what lies between and beside
 * them are, and where onsets fall inside its beats, in the beat before and in the beat after, whatever
 * the tempo.
 *
 * @param odds log odds of each onset to carry a beat
 * @param out `RHYTHM_INPUTS` numbers
 */
export function describeInterval(
  { times, cues }: Pick<BeatEvidence, 'times' | 'cues'>,
  odds: Float64Array,
  { first, last, start, end, parts }: Interval,
  out: Float32Array,
): void {
  out.fill(0);
  const length = (end - start) / parts;
  out[0] = Math.log(length);
  out[1] = first < 0 ? 0 : odds[first];
  out[2] = last < 0 ? 0 : odds[last];
  let inside = UNLIKE;
  let beside = UNLIKE;
  if (parts <= MOST_PARTS) out[4 + parts] = 1;
  let at = 5 + MOST_PARTS;
  for (const cue of OWN) {
    out[at++] = first < 0 ? 0 : cues[first * CUES + cue];
    out[at++] = last < 0 ? 0 : cues[last * CUES + cue];
  }
  const margin = MARGIN * length;
  let count = 0;
  for (let k = indexFrom(times, start - margin); k < times.length; k++) {
    if (times[k] > end + margin) break;
    if (k === first || k === last) continue;
    const like = 1 / (1 + Math.exp(-odds[k]));
    if (times[k] > start && times[k] < end) {
      count++;
      inside = Math.max(inside, odds[k]);
    } else beside = Math.max(beside, odds[k]);
    // Each onset counts for the two places it lies between.
    const place = ((times[k] - start) / length) * PARTS;
    const low = Math.floor(place);
    for (let p = low; p <= low + 1; p++) {
      const slot = slotOf(p, parts);
      if (slot < 0) continue;
      const near = 1 - Math.abs(place - p);
      out[at + 2 * slot] = Math.max(out[at + 2 * slot], near);
      out[at + 2 * slot + 1] = Math.max(out[at + 2 * slot + 1], near * like);
    }
  }
  out[3] = inside;
  out[4] = beside;
  out[at + 2 * SLOTS] = Math.log1p(count / parts);
}

/** Which slot a place counts for: the beats inside lie upon each other; the ends are nobody's. */
function slotOf(place: number, parts: number): number {
  const end = PARTS * parts;
  if (place < 0) return place < -PARTS ? -1 : place + PARTS;
  if (place > end) return place > end + PARTS ? -1 : SILENT + place - end;
  if (place === 0 || place === end) return -1;
  return place % PARTS === 0 ? SILENT : PARTS - 1 + (place % PARTS);
}

/** Log odds that intervals are beats, by the rhythm in and around them; never more than `MOST_ODDS`. */
export type Rhythm = (interval: Interval) => number;
export const MOST_ODDS = 4;
const LEAST_ODDS = -9;
/** For intervals that the network is not asked about. */
const MANY_PARTS_ODDS = -4;

let net: Perceptron | undefined;
const known = new WeakMap<BeatEvidence, Rhythm>();

/** The rhythm of a take as the network hears it that tests/bench/fit-beat-nets.ts taught; each interval is judged once. */
export function rhythmOf(evidence: BeatEvidence): Rhythm {
  const made = known.get(evidence) ?? rhythmIn(evidence);
  known.set(evidence, made);
  return made;
}

/** Log odds of any interval, whatever was asked before. */
type Judge = (interval: Interval) => number;

function plainJudge(evidence: BeatEvidence, odds: Float64Array, taught: Perceptron): Judge {
  const inputs = new Float32Array(RHYTHM_INPUTS);
  return (interval) => {
    describeInterval(evidence, odds, interval, inputs);
    return taught.odds(inputs, 0);
  };
}

/** The same by kernels, to the last bit; they keep the onsets in a memory of their own. */
function kernelJudge(
  { times, cues }: BeatEvidence,
  odds: Float64Array,
  taught: Perceptron,
  kernel: Kernels,
): Judge {
  const room = new KernelRoom(kernel);
  const onsets = room.keepJob(
    [MARGIN, UNLIKE],
    [
      ...[times.length, room.keepDoubles(times), room.keepDoubles(cues), CUES],
      room.keepDoubles(odds),
      room.keepDoubles(odds.map((one) => 1 / (1 + Math.exp(-one)))),
      ...[room.keepJob([], OWN), OWN.length, PARTS, MOST_PARTS, RHYTHM_INPUTS],
      ...[room.place(RHYTHM_INPUTS * 4), keepNet(room, taught).net],
    ],
  );
  return ({ first, last, start, end, parts }) =>
    kernel.intervalOdds(onsets, first, last, start, end, parts);
}

/** Judges intervals of a take between onsets that are that much like beats. */
export function judgeOf(
  evidence: BeatEvidence,
  odds: Float64Array,
  kernel: Kernels | null = ownKernels(),
): Judge {
  net ??= new Perceptron(RHYTHM);
  return kernel ? kernelJudge(evidence, odds, net, kernel) : plainJudge(evidence, odds, net);
}

function rhythmIn(evidence: BeatEvidence): Rhythm {
  const { times } = evidence;
  const n = times.length;
  const judge = judgeOf(evidence, commonSaliences(evidence));
  // Where the answers for intervals from each onset begin.
  const rows = new Int32Array(n + 1);
  for (let i = 0; i < n; i++) {
    const reached = Math.max(i + 1, indexFrom(times, times[i] + REACH));
    rows[i + 1] = rows[i] + (reached - i) * MOST_PARTS;
  }
  const answers = new Float32Array(rows[n]).fill(Number.NaN);
  const ask = (interval: Interval): number =>
    Math.max(LEAST_ODDS, Math.min(MOST_ODDS, judge(interval)));
  return (interval) => {
    const { first, last, start, end, parts } = interval;
    if (parts > MOST_PARTS) return MANY_PARTS_ODDS;
    if (first < 0 || last < 0 || times[first] !== start || times[last] !== end)
      return ask(interval);
    const at = rows[first] + (last - first) * MOST_PARTS + parts - 1;
    if (at >= rows[first + 1]) return ask(interval);
    if (Number.isNaN(answers[at])) answers[at] = ask(interval);
    return answers[at];
  };
}
