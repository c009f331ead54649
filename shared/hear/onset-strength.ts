import type { Share } from '../math/units.ts';
import { ANALYSIS_RATE } from './analysis-rate.ts';
import { CELL, cellOffset, type Levels } from './onset-features.ts';
import type { Attack } from './onset-picking.ts';

/**
 * How much louder each attack makes the sound: loudness (amplitude to the power 0.6, after Stevens)
 * that is new in each band, added up, against what the recording's strongest attacks bring.
 */
export function strengthsOf(attacks: readonly Attack[], levels: Levels): Share[] {
  const added = attacks.map(({ time }) => addedLoudness(levels, time));
  const order = Float64Array.from(added).sort();
  const strong = order[Math.floor(0.98 * (order.length - 1))];
  return added.map((value) => (strong > 0 ? Math.min(1, value / strong) : 0));
}

function addedLoudness(levels: Levels, time: number): number {
  const { bands, data } = levels;
  const cell = Math.round((time * ANALYSIS_RATE) / CELL);
  const row = (frame: number) =>
    Math.min(data.length - bands, Math.max(0, cellOffset(levels, cell + frame)));
  const before = [row(-3), row(-2)];
  const after = [row(2), row(3), row(4)];
  let sum = 0;
  for (let b = 0; b < bands; b++) {
    const was = Math.max(...before.map((at) => data[at + b]));
    const is = Math.max(...after.map((at) => data[at + b]));
    if (is > was) sum += 2 ** (0.6 * is) - 2 ** (0.6 * was);
  }
  return sum;
}
