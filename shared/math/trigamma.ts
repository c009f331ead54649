/**
 * The trigamma function of x over 0: the recurrence and the asymptotic series of Abramowitz and Stegun,
 * Handbook of Mathematical Functions (1964), 6.4.6 and 6.4.12. Right to 1e-9.
 */
export function trigamma(x: number): number {
  let sum = 0;
  let y = x;
  for (; y < 8; y++) sum += 1 / (y * y);
  const z = 1 / (y * y);
  return sum + 1 / y + z / 2 + (z / y) * (1 / 6 - z * (1 / 30 - z * (1 / 42 - z / 30)));
}
