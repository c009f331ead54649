/** The largest absolute sample of each block of 64. */
export function blockMaxima(x: usize, blocks: i32, out: usize): void {
  for (let b = 0; b < blocks; b++) {
    let most = f32x4.splat(0);
    for (let i = 0; i < 16; i++) {
      most = f32x4.max(most, f32x4.abs(v128.load(x)));
      x += 16;
    }
    const halfway = f32x4.max(most, v128.shuffle<f32>(most, most, 2, 3, 0, 1));
    store<f32>(
      out + <usize>b * 4,
      max(f32x4.extract_lane(halfway, 0), f32x4.extract_lane(halfway, 1)),
    );
  }
}

/**
 * The largest absolute value of `count` results (a whole number of fours) of each of `phases` filters of
 * `n` taps: result i is `taps . x[i ...]`.
 */
function largestFiltered(x: usize, count: i32, taps: usize, n: i32, phases: i32): f32 {
  let most = f32x4.splat(0);
  for (let p = 0; p < phases; p++) {
    for (let i = 0; i < count; i += 4) {
      const from = x + <usize>i * 4;
      let sum = f32x4.splat(0);
      for (let k = 0; k < n; k++)
        sum = f32x4.add(
          sum,
          f32x4.mul(v128.load32_splat(taps + <usize>k * 4), v128.load(from + <usize>k * 4)),
        );
      most = f32x4.max(most, f32x4.abs(sum));
    }
    taps += <usize>n * 4;
  }
  const halfway = f32x4.max(most, v128.shuffle<f32>(most, most, 2, 3, 0, 1));
  return max(f32x4.extract_lane(halfway, 0), f32x4.extract_lane(halfway, 1));
}

/**
 * The largest value on and between the samples of stretches of 64, where that is more than `peak`; what
 * can't hold it is passed over, as shared/hear/loudness/true-peak.ts says.
 *
 * @param x the first stretch's first sample; `n` samples before it and after the last one are read
 * @param maxima the largest absolute sample of the stretch before each one, of each one and of the one after it
 * @param taps `phases` filters of `n` taps
 * @param middle absolute sum of any filter's four middle taps; `rest` of all others
 */
export function peakBetween(
  x: usize, maxima: usize, blocks: i32, taps: usize, n: i32, phases: i32,
  middle: f64, rest: f64, peak: f64,
): f64 {
  const before = <usize>(n / 2 - 1) * 4;
  for (let b = 0; b < blocks; b++) {
    const own = <f64>load<f32>(maxima + 4);
    const around = max(<f64>load<f32>(maxima), max(own, <f64>load<f32>(maxima + 8)));
    if (around * (middle + rest) > peak) {
      // The middle taps reach one sample before the stretch and two after it.
      const edge = <f64>max(abs(load<f32>(x - 4)), max(abs(load<f32>(x + 256)), abs(load<f32>(x + 260))));
      if (max(own, edge) * middle + around * rest > peak)
        peak = max(peak, <f64>largestFiltered(x - before, 64, taps, n, phases));
    }
    maxima += 4;
    x += 256;
  }
  return peak;
}

/**
 * Energies of two channels after two second-order sections, in direct form II transposed, twice, a
 * channel in each lane.
 *
 * @param coefficients b0, b1, b2, a1, a2 of the first section, a1, a2 of the second (whose b is 1, -2, 1), as f64
 * @param state four pairs of f64, read and left for the next stretch
 * @param out two f64: the energies
 */
export function weighedEnergies(
  left: usize,
  right: usize,
  count: i32,
  coefficients: usize,
  state: usize,
  out: usize,
): void {
  const b0 = v128.load64_splat(coefficients);
  const b1 = v128.load64_splat(coefficients + 8);
  const b2 = v128.load64_splat(coefficients + 16);
  const a1 = v128.load64_splat(coefficients + 24);
  const a2 = v128.load64_splat(coefficients + 32);
  const h1 = v128.load64_splat(coefficients + 40);
  const h2 = v128.load64_splat(coefficients + 48);
  let z1 = v128.load(state);
  let z2 = v128.load(state + 16);
  let y1 = v128.load(state + 32);
  let y2 = v128.load(state + 48);
  let sum = f64x2.splat(0);
  for (let i: usize = 0; i < <usize>count; i++) {
    const x = f64x2(<f64>load<f32>(left + i * 4), <f64>load<f32>(right + i * 4));
    const head = f64x2.add(f64x2.mul(b0, x), z1);
    z1 = f64x2.add(f64x2.sub(f64x2.mul(b1, x), f64x2.mul(a1, head)), z2);
    z2 = f64x2.sub(f64x2.mul(b2, x), f64x2.mul(a2, head));
    const value = f64x2.add(head, y1);
    y1 = f64x2.add(
      f64x2.sub(f64x2.sub(f64x2.splat(0), f64x2.add(head, head)), f64x2.mul(h1, value)),
      y2,
    );
    y2 = f64x2.sub(head, f64x2.mul(h2, value));
    sum = f64x2.add(sum, f64x2.mul(value, value));
  }
  v128.store(state, z1);
  v128.store(state + 16, z2);
  v128.store(state + 32, y1);
  v128.store(state + 48, y2);
  v128.store(out, sum);
}
