import type { Seconds, Share } from '../../math/units.ts';
import { ANALYSIS_RATE } from '../analysis-rate.ts';
import { CELL, type Levels, rowWithin } from './features.ts';
import type { Attack } from './picking.ts';

/**
 * How much louder each attack makes the sound: loudness (amplitude to the power 0.6, after Stevens)
 * that is new in each band, added up, against what the recording's strongest attacks bring.
 */
export function strengthsOf(attacks: readonly Attack[], levels: Levels): Share[] {
  const added = attacks.map(({ time }) => addedLoudness(levels, time));
  const order = Float64Array.from(added).sort();
  const strong = order[Math.ceil(0.98 * (order.length - 1))];
  return added.map((value) => (strong > 0 ? Math.min(1, value / strong) : 0));
}

/** Sum of the bands' rises, in doublings, under which nothing has begun. */
const RISE = 0.05;

/**
 * The attacks at which any band rises above what it and its neighbours held before (the maximum filter
 * of Boeck and Widmer, DAFx-13): a note that is let go is no attack, nor a band that trembles.
 */
export function risingOnly(attacks: readonly Attack[], levels: Levels): Attack[] {
  const { bands, data } = levels;
  return attacks.filter(({ time }) => {
    const row = rowsAround(levels, time);
    const before = [row(-4), row(-3), row(-2)];
    const after = [row(2), row(3)];
    const held = Array.from({ length: bands }, (_, b) => highest(data, before, b));
    let sum = 0;
    for (let b = 0; b < bands && sum < RISE; b++) {
      const was = Math.max(held[Math.max(0, b - 1)], held[b], held[Math.min(bands - 1, b + 1)]);
      sum += Math.max(0, highest(data, after, b) - was);
    }
    return sum >= RISE;
  });
}

/** Where the rows near `time` begin: 0 is that of the long view's frame on it. */
function rowsAround(levels: Levels, time: Seconds): (frame: number) => number {
  const cell = Math.round((time * ANALYSIS_RATE) / CELL);
  return (frame) => rowWithin(levels, cell + frame);
}

function highest(data: Float32Array, rows: readonly number[], band: number): number {
  let most = 0;
  for (const row of rows) most = Math.max(most, data[row + band]);
  return most;
}

function addedLoudness(levels: Levels, time: Seconds): number {
  const { bands, data } = levels;
  const row = rowsAround(levels, time);
  const before = [row(-3), row(-2)];
  const after = [row(2), row(3), row(4)];
  let sum = 0;
  for (let b = 0; b < bands; b++) {
    const was = highest(data, before, b);
    const is = highest(data, after, b);
    // Levels are in doublings of amplitude; what is new adds its power to what rings.
    if (is > was) sum += (4 ** is - 4 ** was) ** 0.3;
  }
  return sum;
}
