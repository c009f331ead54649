import { lastingKernels } from '../../math/kernel-fft.ts';
import type { Doubles } from '../../math/kernel-places.ts';

/**
 * How much sounds after a moment that did not sound before it, in one band: power of the frame after it
 * over twice what the frame before had there (or one bin beside), as a share of all power before. Notes
 * that beat against each other rise and fall together but bring nothing new, since the band's long
 * window tells them apart. 0 where nothing is new; above 1 where more is new than was there. Kernels, which
 * count where both lie in their memory, give the same to the last bit.
 */
export function newness(before: Doubles, after: Doubles): number {
  const is = after.values;
  if (before.at !== undefined && after.at !== undefined) {
    const kernel = lastingKernels()?.kernel;
    if (kernel) return kernel.newSound(before.at, after.at, is.length);
  }
  const was = before.values;
  let fresh = 0;
  let old = 0;
  for (let k = 0; k < is.length; k++) {
    const most = Math.max(was[k - 1] ?? 0, was[k], was[k + 1] ?? 0);
    fresh += Math.max(0, is[k] - 2 * most);
    old += was[k];
  }
  return fresh > 0 ? fresh / Math.max(old, fresh * 1e-6) : 0;
}
