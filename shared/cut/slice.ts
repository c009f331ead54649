import type { Seconds } from '../math/units.ts';

/**
 * A piece of the take, in the take's seconds. `start <= landing < end`: the landing is the attack that
 * the ear counts; what stands before it leads in, what follows rings on.
 */
export interface Slice {
  readonly start: Seconds;
  readonly landing: Seconds;
  readonly end: Seconds;
}

/** A slice of a project: it keeps its name over every edit; `by` says who set its edges. */
export interface NamedSlice extends Slice {
  readonly id: string;
  readonly by: 'heard' | 'hand';
  readonly fadeIn?: Seconds;
  readonly fadeOut?: Seconds;
}
