import type { Seconds } from '../../math/units.ts';
import { ANALYSIS_RATE } from '../analysis-rate.ts';
import { CELL, type Levels, rowWithin } from './features.ts';

/** The cell that is centred nearest to a moment. */
export const cellAt = (time: Seconds): number => Math.round((time * ANALYSIS_RATE) / CELL);

/** Where the rows near `time` begin: 0 is that of the long view's frame on it. */
export function rowsAround(levels: Levels, time: Seconds): (frame: number) => number {
  const cell = cellAt(time);
  return (frame) => rowWithin(levels, cell + frame);
}

/** A band's highest level in some rows. */
export function highest(data: Float32Array, rows: readonly number[], band: number): number {
  let most = 0;
  for (const row of rows) most = Math.max(most, data[row + band]);
  return most;
}

/** Frames before and after a moment that are compared, and the sum of rises, in doublings, that is enough. */
export interface Rise {
  readonly before: readonly number[];
  readonly after: readonly number[];
  readonly enough: number;
}

/**
 * Whether the bands rise, taken together, above what they and their neighbours held before (the maximum filter of
 * Boeck and Widmer, DAFx-13): a note that is let go brings nothing new, nor does a band that trembles.
 */
export function bringsNew(levels: Levels, time: Seconds, { before, after, enough }: Rise): boolean {
  const { bands, data } = levels;
  const row = rowsAround(levels, time);
  const earlier = before.map(row);
  const later = after.map(row);
  const held = Array.from({ length: bands }, (_, b) => highest(data, earlier, b));
  let sum = 0;
  for (let b = 0; b < bands && sum < enough; b++) {
    const was = Math.max(held[Math.max(0, b - 1)], held[b], held[Math.min(bands - 1, b + 1)]);
    sum += Math.max(0, highest(data, later, b) - was);
  }
  return sum >= enough;
}
