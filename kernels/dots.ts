// @ts-expect-error: decorator
@inline
function total(v: v128): f32 {
  return f32x4.extract_lane(v, 0) + f32x4.extract_lane(v, 1) + (f32x4.extract_lane(v, 2) + f32x4.extract_lane(v, 3));
}

/** Sum of products of `n` floats, a whole number of fours. */
export function dot(a: usize, b: usize, n: i32): f32 {
  let even = f32x4.splat(0);
  let odd = even;
  const bytes = <usize>n * 4;
  let at: usize = 0;
  for (; at + 32 <= bytes; at += 32) {
    even = f32x4.add(even, f32x4.mul(v128.load(a + at), v128.load(b + at)));
    odd = f32x4.add(odd, f32x4.mul(v128.load(a + at + 16), v128.load(b + at + 16)));
  }
  if (at < bytes) even = f32x4.add(even, f32x4.mul(v128.load(a + at), v128.load(b + at)));
  return total(f32x4.add(even, odd));
}

/** Sums of the squares of `blocks` stretches of `n` floats, in single precision, as `dot` adds them. */
export function energies(x: usize, n: i32, blocks: i32, out: usize): void {
  const whole = <usize>(n >> 2) * 16;
  const left = n & 3;
  const mask = i32x4(left > 0 ? -1 : 0, left > 1 ? -1 : 0, left > 2 ? -1 : 0, 0);
  for (let b = 0; b < blocks; b++) {
    let even = f32x4.splat(0);
    let odd = even;
    let at: usize = 0;
    for (; at + 32 <= whole; at += 32) {
      const p = v128.load(x + at);
      const q = v128.load(x + at + 16);
      even = f32x4.add(even, f32x4.mul(p, p));
      odd = f32x4.add(odd, f32x4.mul(q, q));
    }
    const last = v128.and(mask, v128.load(x + whole));
    if (at < whole) {
      const p = v128.load(x + at);
      even = f32x4.add(even, f32x4.mul(p, p));
      odd = f32x4.add(odd, f32x4.mul(last, last));
    } else even = f32x4.add(even, f32x4.mul(last, last));
    store<f32>(out, total(f32x4.add(even, odd)));
    out += 4;
    x += <usize>n * 4;
  }
}

/**
 * Rows of weights times four columns: `out[cell * units + unit] = weights[unit] . x[cell]`.
 *
 * @param x four rows of `n` floats, a whole number of fours
 * @param weights `units` rows (an even number) of `n` floats
 */
export function fourDots(x: usize, weights: usize, n: i32, units: i32, out: usize): void {
  const row = <usize>n * 4;
  for (let u = 0; u < units; u += 2) {
    const w = weights + <usize>u * row;
    let a0 = f32x4.splat(0);
    let a1 = a0;
    let a2 = a0;
    let a3 = a0;
    let b0 = a0;
    let b1 = a0;
    let b2 = a0;
    let b3 = a0;
    for (let at: usize = 0; at < row; at += 16) {
      const p = v128.load(w + at);
      const q = v128.load(w + row + at);
      const x0 = v128.load(x + at);
      const x1 = v128.load(x + row + at);
      const x2 = v128.load(x + 2 * row + at);
      const x3 = v128.load(x + 3 * row + at);
      a0 = f32x4.add(a0, f32x4.mul(p, x0));
      a1 = f32x4.add(a1, f32x4.mul(p, x1));
      a2 = f32x4.add(a2, f32x4.mul(p, x2));
      a3 = f32x4.add(a3, f32x4.mul(p, x3));
      b0 = f32x4.add(b0, f32x4.mul(q, x0));
      b1 = f32x4.add(b1, f32x4.mul(q, x1));
      b2 = f32x4.add(b2, f32x4.mul(q, x2));
      b3 = f32x4.add(b3, f32x4.mul(q, x3));
    }
    const to = out + <usize>u * 4;
    const step = <usize>units * 4;
    store<f32>(to, total(a0));
    store<f32>(to + step, total(a1));
    store<f32>(to + 2 * step, total(a2));
    store<f32>(to + 3 * step, total(a3));
    store<f32>(to + 4, total(b0));
    store<f32>(to + step + 4, total(b1));
    store<f32>(to + 2 * step + 4, total(b2));
    store<f32>(to + 3 * step + 4, total(b3));
  }
}

/**
 * Every `down`-th result of a filter: `out[i * up] = taps . x[i * down ...]` for `count` results.
 *
 * @param n taps, a whole number of fours
 */
export function filtered(x: usize, down: i32, taps: usize, n: i32, out: usize, up: i32, count: i32): void {
  for (let i = 0; i < count; i++) {
    store<f32>(out, dot(x, taps, n));
    x += <usize>down * 4;
    out += <usize>up * 4;
  }
}

/**
 * Half the rate by a symmetric half-band filter: every second result, for `count` of them (a whole
 * number of fours). `out[i] = middle * x[2 i] + sum of taps[k] * (x[2 i + 2 k + 1] + x[2 i - 2 k - 1])`.
 *
 * @param x the sample of the first result; `2 * taps` samples before it and after the last one are read
 * @param work room for the odd samples: `count + 2 * taps` floats and 16 bytes
 */
export function halved(x: usize, middle: f32, taps: usize, n: i32, work: usize, out: usize, count: i32): void {
  // odd[j] = x[2 (j - n) + 1]: those before the first sample, too.
  const first = x - <usize>(2 * n) * 4;
  const all = count + 2 * n;
  for (let j = 0; j < all; j += 4) {
    const a = v128.load(first + <usize>j * 8);
    const b = v128.load(first + <usize>j * 8 + 16);
    v128.store(work + <usize>j * 4, v128.shuffle<f32>(a, b, 1, 3, 5, 7));
  }
  const m = f32x4.splat(middle);
  for (let i = 0; i < count; i += 4) {
    const a = v128.load(x + <usize>i * 8);
    const b = v128.load(x + <usize>i * 8 + 16);
    let sum = f32x4.mul(m, v128.shuffle<f32>(a, b, 0, 2, 4, 6));
    const after = work + <usize>(i + n) * 4;
    for (let k = 0; k < n; k++) {
      const both = f32x4.add(v128.load(after + <usize>k * 4), v128.load(after - <usize>(k + 1) * 4));
      sum = f32x4.add(sum, f32x4.mul(v128.load32_splat(taps + <usize>k * 4), both));
    }
    v128.store(out + <usize>i * 4, sum);
  }
}

/**
 * Gathers stretches of floats end to end, a multiple of each one's step further on than where it stands.
 *
 * @param runs for each: its address, its step in bytes, its length in floats
 * @param to room for the sum of the lengths and three more: whole fours are copied
 */
export function gathered(runs: usize, count: i32, steps: i32, to: usize): void {
  for (const end = runs + <usize>count * 12; runs < end; runs += 12) {
    let from = <usize>load<u32>(runs) + <usize>steps * <usize>load<u32>(runs + 4);
    const bytes = <usize>load<u32>(runs + 8) * 4;
    for (const last = from + bytes, place = to - from; from < last; from += 16)
      v128.store(place + from, v128.load(from));
    to += bytes;
  }
}
