import type { Seconds } from '../../math/units.ts';
import type { SpanScore } from './path.ts';
import { PARTS } from './tuning.ts';

/** Worth of the rhythm from one place to another, divided into `parts`, as far as it is `enough`. */
export type RhythmWorth = (from: number, to: number, parts: number, enough: number) => number;

/** What the worth of an interval between two places is counted from; see `spanScore`. */
export interface SpanModel {
  readonly onsets: Float64Array;
  /** Where beats may lie, the first onset from each on, and the onsets a second around it. */
  readonly places: Float64Array;
  readonly firstOnsets: Int32Array;
  readonly rates: Float64Array;
  /** Gain of each onset at each place of the beat, `PARTS` an onset; null where nothing is known of it. */
  readonly gains: Float64Array | null;
  /** Natural log of the likelihood of each pattern of onsets inside a beat, and how much that counts. */
  readonly patterns: Float64Array;
  readonly patternWeight: number;
  /** Share of beats with an onset, and how much that counts. */
  readonly sounding: number;
  readonly soundingWeight: number;
  /** What an interval's rhythm is worth; -Infinity also where that is less than `enough`. */
  readonly rhythm: RhythmWorth;
  /** The most that it can be for intervals from each place. */
  readonly mostRhythms: Float64Array;
  /** Stretches in which no beat lies. */
  readonly struck: readonly { readonly from: Seconds; readonly until: Seconds }[];
}

const INNER = PARTS - 1;
/** How many bits of each pattern are set. */
export const BITS = Uint8Array.from({ length: 1 << INNER }, (_, mask) => {
  let bits = 0;
  for (let rest = mask; rest > 0; rest &= rest - 1) bits++;
  return bits;
});

/** Steps of density, from 0 to 1, for which limits are kept. */
export const STEPS = 256;

/**
 * The most that a pattern of at most so many bits can be worth against chance at each step of density
 * (`PARTS` numbers a step). Worth against density is convex, so the most within a step is at one of its ends.
 */
export function mostFilled(patterns: Float64Array): Float64Array {
  const best = new Float64Array(PARTS).fill(Number.NEGATIVE_INFINITY);
  for (let mask = 0; mask < patterns.length; mask++)
    if (patterns[mask] > best[BITS[mask]]) best[BITS[mask]] = patterns[mask];
  const most = new Float64Array(STEPS * PARTS);
  const ends = [new Float64Array(PARTS), new Float64Array(PARTS)];
  for (let step = -1; step < STEPS; step++) {
    const [last, next] = step % 2 === 0 ? ends : [ends[1], ends[0]];
    const dense = (step + 1) / STEPS;
    let top = Number.NEGATIVE_INFINITY;
    for (let bits = 0; bits < PARTS; bits++) {
      // At 0 and 1 everything else is out of the question.
      const worth =
        best[bits] -
        (bits > 0 ? bits * Math.log(dense) : 0) -
        (bits < INNER ? (INNER - bits) * Math.log(1 - dense) : 0);
      top = Math.max(top, worth);
      next[bits] = top;
      if (step >= 0) most[step * PARTS + bits] = Math.max(last[bits], top);
    }
  }
  return most;
}
/** Natural logs of density and of its rest at the steps' lower and upper ends. */
export const LOW_LOG = Float64Array.from({ length: STEPS }, (_, step) => Math.log(step / STEPS));
export const HIGH_REST = Float64Array.from({ length: STEPS }, (_, step) =>
  Math.log(1 - (step + 1) / STEPS),
);

/** The most that the onsets before each one can gain in their places, summed from the first on. */
export function mostGained(gains: Float64Array | null, onsets: number): Float64Array {
  const sums = new Float64Array(onsets + 1);
  if (gains)
    for (let i = 0; i < onsets; i++) {
      let most = 0;
      for (let part = 1; part < PARTS; part++) most = Math.max(most, gains[i * PARTS + part]);
      sums[i + 1] = sums[i] + most;
    }
  return sums;
}

/**
 * Worth of an interval from one place to another in equal parts, against onsets that fall anywhere: how
 * likely beats are filled so, what is known of each onset in its place, what beats without an onset cost,
 * and how the network judges the rhythm. Where it cannot be worth `enough` it is not counted.
 */
export function spanScore(model: SpanModel): SpanScore {
  const { onsets, places, firstOnsets, rates, gains, patterns, struck } = model;
  const { patternWeight, soundingWeight, rhythm, mostRhythms } = model;
  const soundLog = Math.log(model.sounding);
  const silentLog = Math.log(1 - model.sounding);
  const anyStruck = struck.length > 0;
  const filled = mostFilled(patterns);
  const gained = mostGained(gains, onsets.length);
  return (from, to, parts, enough) => {
    const start = places[from];
    const interval = (places[to] - start) / parts;
    const first = firstOnsets[from];
    const last = firstOnsets[to];
    const dense = Math.min(0.9, ((rates[from] + rates[to]) * 0.5 * interval) / PARTS);
    const step = (dense * STEPS) | 0;
    const mostRhythm = mostRhythms[from];
    const fill = patternWeight * filled[step * PARTS + Math.min(INNER, last - first)];
    // What the whole interval can be worth at most.
    const most =
      soundingWeight * (soundLog - LOW_LOG[step] + (parts - 1) * (silentLog - HIGH_REST[step])) +
      parts * fill +
      mostRhythm +
      gained[last] -
      gained[first];
    if (most < enough) return Number.NEGATIVE_INFINITY;
    const yes = Math.log(dense);
    const no = Math.log(1 - dense);
    let worth = soundingWeight * (soundLog - yes);
    const scale = PARTS / interval;
    let i = first;
    for (let part = 0; part < parts; part++) {
      const at = start + part * interval;
      if (part > 0) {
        if (anyStruck && within(struck, at)) return Number.NEGATIVE_INFINITY;
        worth += soundingWeight * (silentLog - no);
      }
      const until = at + interval;
      let mask = 0;
      let alike = 0;
      for (; i < last; i++) {
        const onset = onsets[i];
        if (onset >= until) break;
        const inner = ((onset - at) * scale + 0.5) | 0;
        if (inner <= 0 || inner >= PARTS) continue;
        mask |= 1 << (inner - 1);
        if (gains !== null) alike += gains[i * PARTS + inner];
      }
      const bits = BITS[mask];
      worth += alike + patternWeight * (patterns[mask] - bits * yes - (INNER - bits) * no);
    }
    // The rhythm last: most intervals are out of the question without it.
    return worth + mostRhythm < enough
      ? Number.NEGATIVE_INFINITY
      : worth + rhythm(from, to, parts, enough - worth);
  };
}

function within(zones: SpanModel['struck'], time: Seconds): boolean {
  for (const zone of zones) if (time > zone.from && time < zone.until) return true;
  return false;
}
