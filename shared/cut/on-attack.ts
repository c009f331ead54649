import type { Onset } from '../hear/heard.ts';
import type { Seconds } from '../math/units.ts';
import type { Slice } from './slice.ts';

/** A landing this close to an attack that was heard lands on it. */
const near: Seconds = 0.01;

/**
 * Whether a slice lands on an attack that was heard. One that was cut elsewhere, in the middle of a sound, has no
 * attack that a fade could spoil, and clicks without one.
 */
export function landsOnAttack({ landing }: Slice, onsets: readonly Onset[]): boolean {
  return onsets.some((onset) => Math.abs(onset.time - landing) < near);
}
