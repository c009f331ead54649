import type { Seconds } from '../math/units.ts';
import { indexFrom } from './beat-search.ts';
import { SILENT } from './beat-silent-weights.ts';
import { Perceptron } from './perceptron.ts';

/** Beats from one sounding beat to the next that are told apart. */
const MOST_PARTS = 4;
/** Places around an even beat at which onsets are told apart: so many for a beat, a beat to either side. */
const PLACES = 25;
const AROUND = 2 * PLACES + 1;
/** No interval before or after counts for longer or shorter than this (natural log of the ratio). */
const FARTHEST = 0.5;
/** Numbers that describe a silent beat. */
export const SILENT_INPUTS = 5 + MOST_PARTS + AROUND;
/** What one unit of the network's answer moves a beat by, as a share of it, and the most that any does. */
export const SILENT_UNIT = 0.1;
const MOST_MOVED = 0.4;

/** From one sounding beat to the next, with silent ones between. */
export interface Gap {
  readonly start: Seconds;
  readonly end: Seconds;
  /** Beats that it lasts; two or more. */
  readonly parts: number;
  /** The interval before it and, where that one ends with a sounding beat, after it. */
  readonly before?: Seconds;
  readonly after?: Seconds;
}

/**
 * Describes the `index`th beat inside a gap, from 1: how long the beats are beside those before and
 * after, and where onsets fall around the place that an even tempo would give it.
 *
 * @param out `SILENT_INPUTS` numbers
 */
export function describeSilent(
  onsets: Float64Array,
  { start, end, parts, before, after }: Gap,
  index: number,
  out: Float32Array,
): void {
  out.fill(0);
  const even = (end - start) / parts;
  const beside = (interval = even) =>
    Math.max(-FARTHEST, Math.min(FARTHEST, Math.log(interval / even)));
  out[0] = Math.log(even);
  out[1] = beside(before);
  out[2] = beside(after);
  out[3] = index / parts;
  out[4] = after === undefined ? 0 : 1;
  if (parts <= MOST_PARTS) out[4 + parts] = 1;
  const from = start + (index - 1) * even;
  const at = 5 + MOST_PARTS;
  for (let k = indexFrom(onsets, from - even / PLACES); k < onsets.length; k++) {
    // Each onset counts for the two places it lies between.
    const place = ((onsets[k] - from) / even) * PLACES;
    if (place >= AROUND) break;
    const low = Math.floor(place);
    for (let p = Math.max(0, low); p <= low + 1 && p < AROUND; p++)
      out[at + p] = Math.max(out[at + p], 1 - Math.abs(place - p));
  }
}

let net: Perceptron | undefined;

/**
 * How much later than an even tempo would put it each beat inside a gap comes, as the network hears it that
 * tests/bench/fit-silent-beats.ts taught.
 *
 * @returns the beats' times, rising
 */
export function beatsInside(onsets: Float64Array, gap: Gap, weight: number): Seconds[] {
  net ??= new Perceptron(SILENT);
  const inputs = new Float32Array(SILENT_INPUTS);
  const even = (gap.end - gap.start) / gap.parts;
  const times: Seconds[] = [];
  for (let index = 1; index < gap.parts; index++) {
    if (gap.parts > MOST_PARTS) {
      times.push(gap.start + index * even);
      continue;
    }
    describeSilent(onsets, gap, index, inputs);
    const moved = Math.max(
      -MOST_MOVED,
      Math.min(MOST_MOVED, weight * SILENT_UNIT * net.odds(inputs, 0)),
    );
    times.push(gap.start + (index + moved) * even);
  }
  return times;
}
