/**
 * Functions of small numbers by their power series. Unlike those of Math they are quick in kernels too and the same
 * in every machine, to the last bit.
 */

/** Sine of up to a quarter of half a turn (radians), to rounding. */
export function sineSeries(y: number): number {
  const square = y * y;
  let sum = -1 / 1307674368000;
  sum = sum * square + 1 / 6227020800;
  sum = sum * square - 1 / 39916800;
  sum = sum * square + 1 / 362880;
  sum = sum * square - 1 / 5040;
  sum = sum * square + 1 / 120;
  sum = sum * square - 1 / 6;
  return y + y * (sum * square);
}

/** Cosine of up to a quarter of half a turn (radians), to rounding. */
export function cosineSeries(y: number): number {
  const square = y * y;
  let sum = 1 / 20922789888000;
  sum = sum * square - 1 / 87178291200;
  sum = sum * square + 1 / 479001600;
  sum = sum * square - 1 / 3628800;
  sum = sum * square + 1 / 40320;
  sum = sum * square - 1 / 720;
  sum = sum * square + 1 / 24;
  sum = sum * square - 1 / 2;
  return 1 + sum * square;
}

/** The exponential of 0 to 1/2, to rounding. */
export function exponentialSeries(x: number): number {
  let sum = 1 / 87178291200;
  sum = sum * x + 1 / 6227020800;
  sum = sum * x + 1 / 479001600;
  sum = sum * x + 1 / 39916800;
  sum = sum * x + 1 / 3628800;
  sum = sum * x + 1 / 362880;
  sum = sum * x + 1 / 40320;
  sum = sum * x + 1 / 5040;
  sum = sum * x + 1 / 720;
  sum = sum * x + 1 / 120;
  sum = sum * x + 1 / 24;
  sum = sum * x + 1 / 6;
  sum = sum * x + 1 / 2;
  sum = sum * x + 1;
  return sum * x + 1;
}
