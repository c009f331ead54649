import type { Decibels } from './units.ts';

/**
 * Decibels of a ratio of powers, to rounding: by the natural logarithm, which V8's WebAssembly calls straight away, where
 * other logarithms take a detour by JavaScript.
 */
export const decibelsOf = (ratio: number): Decibels => (10 / Math.LN10) * Math.log(ratio);
