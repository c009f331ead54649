/** The power series of shared/math/series.ts. */

/** Sine of up to a quarter of half a turn (radians), to rounding. */
// @ts-expect-error: decorator
@inline
export function sineSeries(y: f64): f64 {
  const square = y * y;
  let sum: f64 = -1.0 / 1307674368000;
  sum = sum * square + 1.0 / 6227020800;
  sum = sum * square - 1.0 / 39916800;
  sum = sum * square + 1.0 / 362880;
  sum = sum * square - 1.0 / 5040;
  sum = sum * square + 1.0 / 120;
  sum = sum * square - 1.0 / 6;
  return y + y * (sum * square);
}

/** Cosine of up to a quarter of half a turn (radians), to rounding. */
// @ts-expect-error: decorator
@inline
export function cosineSeries(y: f64): f64 {
  const square = y * y;
  let sum: f64 = 1.0 / 20922789888000;
  sum = sum * square - 1.0 / 87178291200;
  sum = sum * square + 1.0 / 479001600;
  sum = sum * square - 1.0 / 3628800;
  sum = sum * square + 1.0 / 40320;
  sum = sum * square - 1.0 / 720;
  sum = sum * square + 1.0 / 24;
  sum = sum * square - 1.0 / 2;
  return 1 + sum * square;
}

/** The exponential of 0 to 1/2, to rounding. */
// @ts-expect-error: decorator
@inline
export function exponentialSeries(x: f64): f64 {
  let sum: f64 = 1.0 / 87178291200;
  sum = sum * x + 1.0 / 6227020800;
  sum = sum * x + 1.0 / 479001600;
  sum = sum * x + 1.0 / 39916800;
  sum = sum * x + 1.0 / 3628800;
  sum = sum * x + 1.0 / 362880;
  sum = sum * x + 1.0 / 40320;
  sum = sum * x + 1.0 / 5040;
  sum = sum * x + 1.0 / 720;
  sum = sum * x + 1.0 / 120;
  sum = sum * x + 1.0 / 24;
  sum = sum * x + 1.0 / 6;
  sum = sum * x + 1.0 / 2;
  sum = sum * x + 1;
  return sum * x + 1;
}
