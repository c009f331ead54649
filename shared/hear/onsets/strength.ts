import type { Seconds, Share } from '../../math/units.ts';
import type { Levels } from './features.ts';
import type { Attack } from './picking.ts';
import { bringsNew, highest, type Rise, rowsAround } from './rises.ts';

/** How strong attacks are: the loudness that each adds, against what the strongest of them add. */
export function strengthsOf(added: readonly number[]): Share[] {
  const order = Float64Array.from(added).sort();
  const strong = order[Math.ceil(0.98 * (order.length - 1))];
  return added.map((value) => (strong > 0 ? Math.min(1, value / strong) : 0));
}

/** Something has begun where the bands rise at all. */
const RISING: Rise = { before: [-4, -3, -2], after: [2, 3], enough: 0.05 };

/** The attacks at which anything rises above what was held before. */
export function risingOnly(attacks: readonly Attack[], levels: Levels): Attack[] {
  return attacks.filter(({ time }) => bringsNew(levels, time, RISING));
}

/** How much louder an attack makes the sound: loudness (amplitude to the power 0.6, after Stevens) new in each band, added up. */
export function addedLoudness(levels: Levels, time: Seconds): number {
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
