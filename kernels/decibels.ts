// @ts-expect-error: decorator
@external('math', 'log')
declare function log(x: f64): f64;

/** Decibels of a ratio of powers, as shared/math/decibels.ts has them. */
// @ts-expect-error: decorator
@inline
export function decibelsOf(ratio: f64): f64 {
  return (10 / 2.302585092994046) * log(ratio);
}
