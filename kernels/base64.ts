/** Value of a digit of base 64 (RFC 4648, section 4); 0 for the filling. */
// @ts-expect-error: decorator
@inline
function digit(at: usize): i32 {
  const c = <i32>load<u8>(at);
  if (c >= 97) return c - 71;
  if (c >= 65) return c - 65;
  if (c >= 48) return c <= 57 ? c + 4 : 0;
  return c == 43 ? 62 : 63;
}

/** Base 64 of `count` digits, a whole number of fours, to bytes; two more may be written. */
export function unpacked(digits: usize, count: i32, out: usize): void {
  for (const end = digits + <usize>count; digits < end; digits += 4, out += 3) {
    const word = (digit(digits) << 18) | (digit(digits + 1) << 12) | (digit(digits + 2) << 6) | digit(digits + 3);
    store<u8>(out, <u8>(word >> 16));
    store<u8>(out + 1, <u8>(word >> 8));
    store<u8>(out + 2, <u8>word);
  }
}

/** Signed bytes times the step of their row, in double precision. */
export function scaled(bytes: usize, rows: i32, n: i32, steps: usize, out: usize): void {
  for (let u = 0; u < rows; u++) {
    const step = load<f64>(steps + <usize>u * 8);
    for (const end = bytes + <usize>n; bytes < end; bytes++, out += 8)
      store<f64>(out, <f64>load<i8>(bytes) * step);
  }
}
