import type { Around } from './around.ts';

/**
 * How much sounds after a moment that did not sound before it, in one band: power of the frame after it
 * over twice what the frame before had there (or one bin beside), as a share of all power before. Notes
 * that beat against each other rise and fall together but bring nothing new, since the band's long
 * window tells them apart. 0 where nothing is new; above 1 where more is new than was there.
 */
export function newness({ before, after }: Around): number {
  let fresh = 0;
  let old = 0;
  for (let k = 0; k < after.length; k++) {
    const was = Math.max(before[k - 1] ?? 0, before[k], before[k + 1] ?? 0);
    fresh += Math.max(0, after[k] - 2 * was);
    old += before[k];
  }
  return fresh > 0 ? fresh / Math.max(old, fresh * 1e-6) : 0;
}
