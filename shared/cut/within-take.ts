import type { Seconds } from '../math/units.ts';
import type { Slice } from './slice.ts';

/**
 * The slices as far as the take goes: one that lands after its end is none, and one that ends after it ends with
 * it. A project file may say otherwise, when it was written by hand or its recording came back shorter.
 */
export function withinTake<S extends Slice>(slices: readonly S[], seconds: Seconds): S[] {
  return slices.flatMap((slice) => {
    if (slice.end <= seconds) return slice;
    return slice.landing < seconds ? { ...slice, end: seconds } : [];
  });
}
