import type { Seconds } from '../../math/units.ts';
import { Perceptron } from '../perceptron.ts';
import { indexFrom } from './search.ts';
import { SILENT } from './silent-weights.ts';

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
 * Where the beats inside a gap lie: each as much later than an even tempo would put it as the network hears
 * that tests/bench/fit-silent-beats.ts taught. Where more beats are missing than it knows of they are even.
 *
 * @param weight 0 leaves them even, 1 moves them all the way
 * @returns the beats' times, rising
 */
export function beatsInside(onsets: Float64Array, gap: Gap, weight: number): Seconds[] {
  const moved =
    weight > 0 && gap.parts <= MOST_PARTS ? movesInside(onsets, gap, weight) : undefined;
  const even = (gap.end - gap.start) / gap.parts;
  return Array.from(
    { length: gap.parts - 1 },
    (_, i) => gap.start + (i + 1 + (moved?.[i] ?? 0)) * even,
  );
}

/** By what share of a beat each of them comes later than an even tempo would put it. */
function movesInside(onsets: Float64Array, gap: Gap, weight: number): number[] {
  net ??= new Perceptron(SILENT);
  const taught = net;
  const inputs = new Float32Array(SILENT_INPUTS);
  return Array.from({ length: gap.parts - 1 }, (_, i) => {
    describeSilent(onsets, gap, i + 1, inputs);
    const moved = weight * SILENT_UNIT * taught.odds(inputs, 0);
    return Math.max(-MOST_MOVED, Math.min(MOST_MOVED, moved));
  });
}
