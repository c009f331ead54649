import type { Seconds } from '../../math/units.ts';
import { CUE_NAMES, CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';
import type { Interval } from './rhythm.ts';
import { indexFrom } from './search.ts';

/** Cues that tell the beats of a bar apart. */
const OWN = (['bassRise', 'strength', 'change', 'wait', 'energy'] as const).map((name) =>
  CUE_NAMES.indexOf(name),
);
/** Lengths of bars, or of figures, in beats. */
const BARS = [2, 3, 4, 6];
const ON_BEAT: Seconds = 0.045;
/** What a beat teaches loses with each later one; what teaches less is not looked at. */
const FORGET = 0.93;
const MOST = 48;
/** Beats as all beats are that each place of the bar begins with. */
const PRIOR = 1.5;
/** Spread of a cue around its mean at a place of the bar. */
const SPREAD = 1;
/** How much evidence counts: cues hang together. */
const TRUST = 0.5;

/** Numbers that say how an interval fits the bar. */
export const BAR_INPUTS = 2;

interface Place {
  weight: number;
  sounding: number;
  readonly sums: Float64Array;
}

const emptyPlace = (): Place => ({ weight: 0, sounding: 0, sums: new Float64Array(OWN.length) });

/**
 * Learns from confirmed beats what comes at which place of the bar: bass on the first, silence on the third,
 * whatever it is that comes back in so many beats.
 *
 * @returns what writes `BAR_INPUTS` numbers for an interval that begins at the last of the beats, 0 for others
 */
export function barHabit(
  { times, cues }: Pick<BeatEvidence, 'times' | 'cues'>,
  beats: readonly Seconds[],
) {
  const n = beats.length;
  const carried = beats.map((beat) => {
    const next = indexFrom(times, beat);
    const before =
      next === times.length || (next > 0 && beat - times[next - 1] < times[next] - beat);
    const k = before ? next - 1 : next;
    return k >= 0 && Math.abs(times[k] - beat) < ON_BEAT ? k : -1;
  });
  const all = emptyPlace();
  const add = (place: Place, k: number, weight: number) => {
    place.weight += weight;
    if (k < 0) return;
    place.sounding += weight;
    for (let c = 0; c < OWN.length; c++) place.sums[c] += weight * cues[k * CUES + OWN[c]];
  };
  const begin = Math.max(0, n - MOST);
  for (let b = begin; b < n; b++) add(all, carried[b], FORGET ** (n - 1 - b));
  const usual = all.sums.map((sum) => sum / (all.sounding + 0.5));
  const usualSounding = (all.sounding + 0.8) / (all.weight + 1);
  /** How much likelier a beat with this onset (-1 for none) is at that place than anywhere. */
  const fits = (place: Place, k: number): number => {
    const share = (place.sounding + PRIOR * usualSounding) / (place.weight + PRIOR);
    if (k < 0) return TRUST * Math.log((1 - share + 0.02) / (1 - usualSounding + 0.02));
    let sum = Math.log((share + 0.02) / (usualSounding + 0.02));
    for (let c = 0; c < OWN.length; c++) {
      const x = cues[k * CUES + OWN[c]];
      const mean = (place.sums[c] + PRIOR * usual[c]) / (place.sounding + PRIOR);
      sum += ((x - usual[c]) ** 2 - (x - mean) ** 2) / (2 * SPREAD * SPREAD);
    }
    return TRUST * sum;
  };
  const bars = BARS.map((length) => {
    const places = Array.from({ length }, emptyPlace);
    let gain = 0;
    for (let b = begin; b < n; b++) {
      const weight = FORGET ** (n - 1 - b);
      gain += weight * fits(places[b % length], carried[b]);
      for (const place of places) {
        place.weight *= FORGET;
        place.sounding *= FORGET;
        for (let c = 0; c < OWN.length; c++) place.sums[c] *= FORGET;
      }
      add(places[b % length], carried[b], 1);
    }
    return { length, places, gain };
  });
  const top = Math.max(0, ...bars.map(({ gain }) => gain));
  const none = Math.exp(-top);
  const shares = bars.map(({ gain }) => Math.exp(gain - top));
  const sum = shares.reduce((a, b) => a + b, none);
  const sure = Math.log(sum / none);
  const anchor = beats[n - 1];
  return ({ start, last, parts }: Interval, out: Float32Array, at: number): void => {
    out[at] = 0;
    out[at + 1] = 0;
    if (Math.abs(start - anchor) > 1e-6) return;
    let likely = none;
    for (const [i, { length, places }] of bars.entries()) {
      let own = 0;
      for (let m = 1; m <= parts; m++)
        own += fits(places[(n - 1 + m) % length], m < parts ? -1 : last);
      likely += shares[i] * Math.exp(own);
    }
    out[at] = Math.log(likely / sum);
    out[at + 1] = Math.min(6, sure);
  };
}
