import { type Doubles, Place } from '../../math/kernel-places.ts';
import type { Share } from '../../math/units.ts';

/** Whether a bin is stronger than the two on each side of it. */
export function isPeak(power: Float64Array, k: number): boolean {
  const p = power[k];
  const last = power.length - 1;
  return !(
    (k > 0 && p <= power[k - 1]) ||
    (k > 1 && p <= power[k - 2]) ||
    (k < last && p < power[k + 1]) ||
    (k < last - 1 && p < power[k + 2])
  );
}

/**
 * Bins from `first` to `end` that are peaks and stronger than a share of the strongest bin there, in order. Kernels, which
 * look where the power lies in their memory, find the same.
 */
export function strongPeaks(
  power: Doubles,
  first: number,
  end: number,
  share: Share,
): ArrayLike<number> & Iterable<number> {
  const bins = power.values.length;
  const place = power.at === undefined ? null : Place.take(bins);
  if (place && power.at !== undefined) {
    const { kernel, room } = place.kernels;
    const count = kernel.strongPeaks(power.at, bins, first, end, share, place.at);
    const found = room.whole(place.at, count).slice();
    place.leave();
    return found;
  }
  const { values } = power;
  let strongest = 0;
  for (let k = first; k < end; k++) strongest = Math.max(strongest, values[k]);
  const found: number[] = [];
  for (let k = first; k < end; k++)
    if (values[k] > strongest * share && isPeak(values, k)) found.push(k);
  return found;
}
