import type { Seconds } from '../../math/units.ts';
import { reachEnds } from './ends.ts';
import { evenBeats } from './even.ts';
import type { BeatEvidence } from './evidence.ts';
import type { Lesson } from './learning.ts';
import { type Memory, recalled } from './memory.ts';
import { type Known, MOST_NEXT, NEXT_REACH, nextBeats } from './next.ts';
import { MOST, type Places } from './path.ts';
import { bestPath } from './path-kernel.ts';
import { centreInClusters, placeSilent, smoothBeats } from './refine.ts';
import { type Interval, MOST_ODDS, rhythmOf } from './rhythm.ts';
import { saliences } from './salience.ts';
import { indexFrom } from './search.ts';
import type { RhythmWorth, SpanModel } from './span.ts';
import type { LastFix } from './state.ts';
import { PARTS, type Tuning } from './tuning.ts';

/** What is certain before beats are inferred. */
export interface Certain {
  /** Beats confirmed from the first on: they stay as they are. */
  readonly locked: readonly Seconds[];
  /** Beats set further on. */
  readonly set: readonly Seconds[];
  /** Stretches in which no beat lies. */
  readonly struck: readonly { readonly from: Seconds; readonly until: Seconds }[];
  /** Beats further on that were confirmed once. */
  readonly likely: readonly Seconds[];
  /** From here on the tempo before binds no longer. */
  readonly freeFrom: Seconds;
  /** The last fix, where it corrected one beat. */
  readonly lastFix?: LastFix;
}

/** An onset this close to a beat that the user set is that beat's own. */
const SAME = 0.045;
/** A path begins within this time of the first onset. */
const FIRST = 2.5;
/** Onsets are counted this far on either side for their rate. */
const RATE_REACH = 4;

/** Onsets a second around each onset. */
function ratesOf(times: Float64Array): Float64Array {
  return times.map((time) => {
    const from = indexFrom(times, time - RATE_REACH);
    const until = indexFrom(times, time + RATE_REACH);
    const low = Math.max(times[0], time - RATE_REACH);
    const high = Math.min(times[times.length - 1], time + RATE_REACH);
    return (until - from) / Math.max(1, high - low);
  });
}

function near(set: readonly Seconds[], time: Seconds): boolean {
  const i = indexFrom(set, time - SAME);
  return i < set.length && set[i] < time + SAME;
}

function within(zones: Certain['struck'], time: Seconds): boolean {
  for (const zone of zones) if (time > zone.from && time < zone.until) return true;
  return false;
}

/** The onset that a beat at some time lies on, -1 for none. */
function nearestOnset(onsets: Float64Array, time: Seconds): number {
  let best = -1;
  let apart = SAME;
  for (let i = indexFrom(onsets, time - SAME); i < onsets.length && onsets[i] <= time + SAME; i++)
    if (Math.abs(onsets[i] - time) <= apart) {
      best = i;
      apart = Math.abs(onsets[i] - time);
    }
  return best;
}

/** What a path is chosen by. */
export interface Choices {
  readonly places: Places;
  readonly span: SpanModel;
  /** Log odds of each onset to carry a beat. */
  readonly odds: Float64Array;
  /** What the next beats are judged by; absent where one beat was not corrected. */
  readonly known?: Known;
  readonly intervalOf: (from: number, to: number, parts: number) => Interval;
}

/**
 * Where beats may lie after the locked ones, and what intervals are worth; where there is no choice, just
 * where they lie.
 */
export function choicesFor(
  evidence: BeatEvidence,
  certain: Certain,
  lesson: Lesson,
  memory: Memory,
  tuning: Tuning,
): Choices | Seconds[] {
  const onsets = evidence.times;
  const salience = saliences(evidence, lesson.salience);
  const rates = ratesOf(onsets);
  const { locked, struck, likely } = certain;
  const begin = locked.length > 0 ? locked[locked.length - 1] : -Infinity;
  const inBeat = PARTS;
  const knows = memory.taught > 0;
  const remembered = recalled(memory, lesson.places, indexFrom(onsets, begin - SAME), tuning);
  const odds = salience.map(
    (one, i) => tuning.salienceWeight * one + (knows ? remembered.gains[i * inBeat] : 0),
  );
  const ahead = certain.set.filter((time) => time > begin);
  const times: number[] = [];
  const scores: number[] = [];
  const must: number[] = [];
  const rate: number[] = [];
  const place = (time: Seconds, score: number, forced: number, dense: number) => {
    times.push(time);
    scores.push(score);
    must.push(forced);
    rate.push(dense);
  };
  const rateAt = (time: Seconds) =>
    rates[Math.min(onsets.length - 1, indexFrom(onsets, time))] ?? 1;
  if (locked.length > 0) place(begin, 0, 1, rateAt(begin));
  let a = 0;
  let k = 0;
  for (let i = indexFrom(onsets, begin); i <= onsets.length; i++) {
    const time = i < onsets.length ? onsets[i] : Infinity;
    for (; a < ahead.length && ahead[a] <= time; a++) place(ahead[a], 0, 1, rateAt(ahead[a]));
    if (time === Infinity) break;
    if (time <= begin + SAME || near(ahead, time) || within(struck, time)) continue;
    for (; k < likely.length && likely[k] < time - SAME; k++)
      if (likely[k] > begin + SAME && !near(ahead, likely[k])) {
        // A beat that was confirmed where nothing sounds.
        const open = !within(struck, likely[k]) && likely[k] > (times[times.length - 1] ?? -1);
        if (open) place(likely[k], tuning.keep - 1, 0, rates[i]);
      }
    const kept = k < likely.length && Math.abs(likely[k] - time) <= SAME;
    if (kept) k++;
    place(time, odds[i] + (kept ? tuning.keep : 0), 0, rates[i]);
  }
  const n = times.length;
  if (n < 2) return times;
  let starts = 1;
  if (locked.length === 0)
    while (starts < n && times[starts] < times[0] + FIRST && !must[starts - 1]) starts++;

  const placeTimes = Float64Array.from(times);
  const own = Int32Array.from(times, (time) => nearestOnset(onsets, time));
  const judged = rhythmOf(evidence);
  const weight = locked.length > 0 ? tuning.rhythmWeightKnown : tuning.rhythmWeight;
  const intervalOf = (from: number, to: number, parts: number): Interval => ({
    first: own[from],
    last: own[to],
    start: placeTimes[from],
    end: placeTimes[to],
    parts,
  });
  const { lastFix } = certain;
  const known =
    lastFix && knows && locked.length > 1
      ? {
          evidence,
          confirmed: locked,
          lesson,
          salience,
          recalled: remembered,
          rates,
          fix: lastFix,
          tuning,
        }
      : undefined;
  const next = known && tuning.nextWeight > 0 ? nextBeats(known) : undefined;
  const mostNext = next ? tuning.nextWeight * MOST_NEXT : 0;
  const rhythm: RhythmWorth = (from, to, parts, enough) => {
    if (weight === 0 && !next) return 0;
    const interval = intervalOf(from, to, parts);
    const odds = weight === 0 ? 0 : weight * (judged(interval) + tuning.rhythmEven);
    if (!next || interval.start >= begin + NEXT_REACH) return odds;
    return odds + mostNext < enough ? -Infinity : odds + tuning.nextWeight * next(interval);
  };
  const span = {
    onsets,
    places: placeTimes,
    firstOnsets: Int32Array.from(times, (time) => indexFrom(onsets, time)),
    rates: Float64Array.from(rate),
    gains: knows ? remembered.gains : null,
    patterns: lesson.patterns.logs,
    patternWeight: lesson.patterns.weight,
    sounding: lesson.sounding,
    soundingWeight: tuning.soundingWeight,
    rhythm,
    mostRhythms: placeTimes.map(
      (time) =>
        weight * (MOST_ODDS + tuning.rhythmEven) + (time < begin + NEXT_REACH ? mostNext : 0),
    ),
    struck,
  };
  return {
    places: {
      times: placeTimes,
      scores: Float64Array.from(scores),
      must: Uint8Array.from(must),
      starts,
      end: onsets.length > 0 ? onsets[onsets.length - 1] : 0,
      freeAt: certain.freeFrom > begin ? indexFrom(placeTimes, certain.freeFrom) : -1,
      held: locked.length > 1 ? Math.round(tuning.held) : MOST,
      interval: locked.length > 1 ? begin - locked[locked.length - 2] : undefined,
    },
    span,
    odds,
    known,
    intervalOf,
  };
}

/** Beats of the whole take: the locked ones, then the best path through all that is certain. */
export function inferPath(
  evidence: BeatEvidence,
  certain: Certain,
  lesson: Lesson,
  memory: Memory,
  tuning: Tuning,
): Seconds[] {
  const onsets = evidence.times;
  const { locked } = certain;
  const choices = choicesFor(evidence, certain, lesson, memory, tuning);
  if (Array.isArray(choices)) return [...locked, ...choices.slice(locked.length > 0 ? 1 : 0)];
  const { places, span, odds } = choices;
  const path = bestPath(places, lesson.tempo, span);
  const set = new Set(certain.set);
  const before = Math.max(0, locked.length - 1);
  const whole = {
    times: [...locked.slice(0, before), ...path.times],
    sounding: [...locked.slice(0, before).map(() => true), ...path.sounding],
  };
  placeSilent(whole, locked.length, onsets, tuning.silentWeight);
  if (tuning.reach > 0) centreInClusters(whole, locked.length, set, onsets, odds, tuning);
  if (tuning.even === 1) evenBeats(whole.times, locked.length, set, onsets, odds);
  else {
    const steady = 1 / (1 + (lesson.tempo.freedom / tuning.smoothFreedom) ** 3);
    const weight = tuning.smooth * steady;
    smoothBeats(whole.times, locked.length, set, onsets, odds, weight, tuning.smoothOdds);
  }
  if (tuning.reachesEnds < 1) return whole.times;
  return reachEnds(whole.times, locked.length > 0, onsets, certain.struck);
}
