import { median } from '../../shared/math/median.ts';
import type { Seconds } from '../../shared/math/units.ts';

/** Taps wanted before a latency is believed, and how far from a click a tap may be to count. */
export const tapsWanted = 8;
const reach: Seconds = 0.28;

/**
 * How late taps come after clicks: the median, so that a slip does no harm; null before there are
 * enough, or where they scatter so much that they say nothing.
 */
export function latencyOf(clicks: readonly Seconds[], taps: readonly Seconds[]): Seconds | null {
  const late = taps.flatMap((tap) => {
    let nearest = Number.POSITIVE_INFINITY;
    for (const click of clicks)
      if (Math.abs(tap - click) < Math.abs(nearest)) nearest = tap - click;
    return Math.abs(nearest) <= reach ? [nearest] : [];
  });
  if (late.length < tapsWanted) return null;
  const middle = median(late);
  const scatter = median(late.map((one) => Math.abs(one - middle)));
  return scatter < 0.05 ? middle : null;
}
