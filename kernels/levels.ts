/**
 * log2(1 + gain * x) of `count` floats at or above 0, in place (rounded up to whole fours): exponent and
 * mantissa apart, the mantissa's part by a series in (m - 1) / (m + 1), as is common practice.
 */
export function logarithms(x: usize, count: i32, gain: f32): void {
  const one = f32x4.splat(1);
  const factor = f32x4.splat(gain);
  const bias = i32x4.splat(127);
  const mantissa = i32x4.splat(0x007fffff);
  const unit = i32x4.splat(0x3f800000);
  const root = f32x4.splat(1.41421356);
  // 2 / ln 2 times 1, 1/3, 1/5, 1/7, 1/9.
  const k1 = f32x4.splat(2.885390082);
  const k3 = f32x4.splat(0.961796694);
  const k5 = f32x4.splat(0.5770780164);
  const k7 = f32x4.splat(0.4121985831);
  const k9 = f32x4.splat(0.320598898);
  const end = x + <usize>((count + 3) >> 2) * 16;
  for (let at = x; at < end; at += 16) {
    const y = f32x4.add(one, f32x4.mul(factor, v128.load(at)));
    let m = v128.or(v128.and(y, mantissa), unit);
    let e = f32x4.convert_i32x4_s(i32x4.sub(i32x4.shr_u(y, 23), bias));
    // Mantissas above the root of 2 are halved, so that the series is short.
    const high = f32x4.gt(m, root);
    m = v128.bitselect(f32x4.mul(m, f32x4.splat(0.5)), m, high);
    e = f32x4.add(e, v128.and(high, one));
    const z = f32x4.div(f32x4.sub(m, one), f32x4.add(m, one));
    const zz = f32x4.mul(z, z);
    let s = f32x4.add(k7, f32x4.mul(zz, k9));
    s = f32x4.add(k5, f32x4.mul(zz, s));
    s = f32x4.add(k3, f32x4.mul(zz, s));
    s = f32x4.add(k1, f32x4.mul(zz, s));
    v128.store(at, f32x4.add(e, f32x4.mul(z, s)));
  }
}

/** Root of the sum of the squares of each row of `n` floats. */
export function rowNorms(x: usize, rows: i32, n: i32, out: usize): void {
  for (let r = 0; r < rows; r++, out += 4) {
    let sum: f64 = 0;
    for (const end = x + <usize>n * 4; x < end; x += 4) {
      const value = <f64>load<f32>(x);
      sum += value * value;
    }
    store<f32>(out, <f32>sqrt(sum));
  }
}

/**
 * What each of `count` floats and `reach` neighbours on either side add up to; then which of these sums are
 * at least `least`, higher than all of `rivals` sums before them and no lower than any of as many after them.
 *
 * @param x has 0 for `reach` places before and after it
 * @param mass room for `count` floats
 * @param found room for as many whole numbers
 * @returns how many there are
 */
export function peaksOfSums(
  x: usize, count: i32, reach: i32, rivals: i32, least: f64, mass: usize, found: usize,
): i32 {
  for (let k = 0; k < count; k++) {
    let sum: f32 = 0;
    for (let j = k - reach; j <= k + reach; j++) sum += load<f32>(x + <isize>j * 4);
    store<f32>(mass + <usize>k * 4, sum);
  }
  let peaks = 0;
  for (let k = 0; k < count; k++) {
    const own = load<f32>(mass + <usize>k * 4);
    if (<f64>own < least) continue;
    let highest = true;
    for (let j = max(0, k - rivals); j < k && highest; j++)
      if (load<f32>(mass + <usize>j * 4) >= own) highest = false;
    const last = min(count - 1, k + rivals);
    for (let j = k + 1; j <= last && highest; j++)
      if (load<f32>(mass + <usize>j * 4) > own) highest = false;
    if (!highest) continue;
    store<i32>(found + <usize>peaks * 4, k);
    peaks++;
  }
  return peaks;
}
