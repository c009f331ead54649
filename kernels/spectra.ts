/**
 * Power spectra of eight real frames at once. Two frames are the real and the imaginary part of one
 * complex transform, and four transforms run side by side, one in each lane. The transform is
 * Stockham's self-sorting form in radix 4, as in shared/math/complex-fft.ts.
 */

/** Bytes of one complex number in four lanes, and where its imaginary part begins. */
const CELL: usize = 32;
const IM: usize = 16;

// @ts-expect-error: decorator
@inline
function transposed(to: usize, a: v128, b: v128, c: v128, d: v128): void {
  const t0 = v128.shuffle<f32>(a, b, 0, 4, 1, 5);
  const t1 = v128.shuffle<f32>(a, b, 2, 6, 3, 7);
  const t2 = v128.shuffle<f32>(c, d, 0, 4, 1, 5);
  const t3 = v128.shuffle<f32>(c, d, 2, 6, 3, 7);
  v128.store(to, v128.shuffle<f64>(t0, t2, 0, 2));
  v128.store(to + CELL, v128.shuffle<f64>(t0, t2, 1, 3));
  v128.store(to + 2 * CELL, v128.shuffle<f64>(t1, t3, 0, 2));
  v128.store(to + 3 * CELL, v128.shuffle<f64>(t1, t3, 1, 3));
}

// @ts-expect-error: decorator
@inline
function windowed(frames: usize, nth: usize, at: usize, window: v128): v128 {
  return f32x4.mul(v128.load(<usize>load<u32>(frames + nth * 4) + at), window);
}

/** Frames times window into `to`: even ones real, odd ones imaginary. */
function gather(frames: usize, window: usize, size: i32, to: usize): void {
  for (let i: usize = 0; i < <usize>size; i += 4) {
    const at = i * 4;
    const w = v128.load(window + at);
    const place = to + i * CELL;
    transposed(place, windowed(frames, 0, at, w), windowed(frames, 2, at, w), windowed(frames, 4, at, w), windowed(frames, 6, at, w));
    transposed(place + IM, windowed(frames, 1, at, w), windowed(frames, 3, at, w), windowed(frames, 5, at, w), windowed(frames, 7, at, w));
  }
}

// @ts-expect-error: decorator
@inline
function turned(to: usize, re: v128, im: v128, c: v128, s: v128): void {
  v128.store(to, f32x4.add(f32x4.mul(re, c), f32x4.mul(im, s)));
  v128.store(to + IM, f32x4.sub(f32x4.mul(im, c), f32x4.mul(re, s)));
}

/** One radix-4 pass over sub-transforms of `n` points. `table`: `size` cosines, then `size` sines. */
function pass(n: i32, stride: i32, size: i32, table: usize, x: usize, y: usize): void {
  const quarter = n >> 2;
  const hop = <usize>(quarter * stride) * CELL;
  const step = <usize>stride * CELL;
  const sines = table + <usize>size * 4;
  for (let p = 0; p < quarter; p++) {
    const t = p * stride;
    const c1 = v128.load32_splat(table + <usize>t * 4);
    const s1 = v128.load32_splat(sines + <usize>t * 4);
    const c2 = v128.load32_splat(table + <usize>(2 * t) * 4);
    const s2 = v128.load32_splat(sines + <usize>(2 * t) * 4);
    const c3 = v128.load32_splat(table + <usize>(3 * t) * 4);
    const s3 = v128.load32_splat(sines + <usize>(3 * t) * 4);
    let from = x + <usize>t * CELL;
    let to = y + <usize>(4 * t) * CELL;
    for (let q = 0; q < stride; q++) {
      const ar = v128.load(from);
      const ai = v128.load(from + IM);
      const br = v128.load(from + hop);
      const bi = v128.load(from + hop + IM);
      const cr = v128.load(from + 2 * hop);
      const ci = v128.load(from + 2 * hop + IM);
      const dr = v128.load(from + 3 * hop);
      const di = v128.load(from + 3 * hop + IM);
      from += CELL;
      const pr = f32x4.add(ar, cr);
      const pi = f32x4.add(ai, ci);
      const mr = f32x4.sub(ar, cr);
      const mi = f32x4.sub(ai, ci);
      const qr = f32x4.add(br, dr);
      const qi = f32x4.add(bi, di);
      const jr = f32x4.sub(di, bi);
      const ji = f32x4.sub(br, dr);
      v128.store(to, f32x4.add(pr, qr));
      v128.store(to + IM, f32x4.add(pi, qi));
      turned(to + step, f32x4.sub(mr, jr), f32x4.sub(mi, ji), c1, s1);
      turned(to + 2 * step, f32x4.sub(pr, qr), f32x4.sub(pi, qi), c2, s2);
      turned(to + 3 * step, f32x4.add(mr, jr), f32x4.add(mi, ji), c3, s3);
      to += CELL;
    }
  }
}

/** The last pass of a length that is a power of 4, in place. */
function lastFour(stride: i32, x: usize): void {
  const step = <usize>stride * CELL;
  for (let a = x; a < x + step; a += CELL) {
    const b = a + step;
    const c = b + step;
    const d = c + step;
    const ar = v128.load(a);
    const ai = v128.load(a + IM);
    const br = v128.load(b);
    const bi = v128.load(b + IM);
    const cr = v128.load(c);
    const ci = v128.load(c + IM);
    const dr = v128.load(d);
    const di = v128.load(d + IM);
    const pr = f32x4.add(ar, cr);
    const pi = f32x4.add(ai, ci);
    const mr = f32x4.sub(ar, cr);
    const mi = f32x4.sub(ai, ci);
    const qr = f32x4.add(br, dr);
    const qi = f32x4.add(bi, di);
    const jr = f32x4.sub(di, bi);
    const ji = f32x4.sub(br, dr);
    v128.store(a, f32x4.add(pr, qr));
    v128.store(a + IM, f32x4.add(pi, qi));
    v128.store(b, f32x4.sub(mr, jr));
    v128.store(b + IM, f32x4.sub(mi, ji));
    v128.store(c, f32x4.sub(pr, qr));
    v128.store(c + IM, f32x4.sub(pi, qi));
    v128.store(d, f32x4.add(mr, jr));
    v128.store(d + IM, f32x4.add(mi, ji));
  }
}

/** The last pass of any other length, in place. */
function lastTwo(stride: i32, x: usize): void {
  const step = <usize>stride * CELL;
  for (let a = x; a < x + step; a += CELL) {
    const b = a + step;
    const ar = v128.load(a);
    const ai = v128.load(a + IM);
    const br = v128.load(b);
    const bi = v128.load(b + IM);
    v128.store(a, f32x4.add(ar, br));
    v128.store(a + IM, f32x4.add(ai, bi));
    v128.store(b, f32x4.sub(ar, br));
    v128.store(b + IM, f32x4.sub(ai, bi));
  }
}

/**
 * Powers of the bins from `first` to before `end` of eight frames.
 *
 * @param frames eight addresses of `size` samples each
 * @param window `size` factors
 * @param table `size` cosines of a whole turn, then as many sines
 * @param size a power of two, 16 or more
 * @param work room for 64 times `size` bytes
 * @param out for each bin four even frames, then four odd ones
 */
export function powersOfEight(frames: usize, window: usize, table: usize, size: i32, work: usize, first: i32, end: i32, out: usize): void {
  let x = work;
  let y = work + <usize>size * CELL;
  gather(frames, window, size, x);
  let stride = 1;
  for (let n = size; n > 4; n >>= 2) {
    pass(n, stride, size, table, x, y);
    stride <<= 2;
    const swap = x;
    x = y;
    y = swap;
  }
  if (stride * 4 == size) lastFour(stride, x);
  else lastTwo(stride, x);
  const quarter = f32x4.splat(0.25);
  for (let k = first; k < end; k++) {
    const a = x + <usize>k * CELL;
    const b = x + <usize>((size - k) & (size - 1)) * CELL;
    const ar = v128.load(a);
    const ai = v128.load(a + IM);
    const br = v128.load(b);
    const bi = v128.load(b + IM);
    const sumRe = f32x4.add(ar, br);
    const sumIm = f32x4.add(ai, bi);
    const lessRe = f32x4.sub(ar, br);
    const lessIm = f32x4.sub(ai, bi);
    const to = out + <usize>k * CELL;
    v128.store(to, f32x4.mul(quarter, f32x4.add(f32x4.mul(sumRe, sumRe), f32x4.mul(lessIm, lessIm))));
    v128.store(to + IM, f32x4.mul(quarter, f32x4.add(f32x4.mul(sumIm, sumIm), f32x4.mul(lessRe, lessRe))));
  }
}

/**
 * Roots of the bands' powers, times `scale`: eight rows of `bands` floats, a row a frame.
 *
 * @param powers as `powersOfEight` leaves them
 * @param edges `bands` + 1 bin numbers
 */
export function bandsOfEight(powers: usize, edges: usize, bands: i32, scale: f32, to: usize): void {
  const row = <usize>bands * 4;
  const gain = f32x4.splat(scale);
  for (let b = 0; b < bands; b++) {
    const at = edges + <usize>b * 4;
    const end = powers + <usize>load<i32>(at + 4) * CELL;
    let even = f32x4.splat(0);
    let odd = even;
    for (let k = powers + <usize>load<i32>(at) * CELL; k < end; k += CELL) {
      even = f32x4.add(even, v128.load(k));
      odd = f32x4.add(odd, v128.load(k + IM));
    }
    even = f32x4.mul(gain, f32x4.sqrt(even));
    odd = f32x4.mul(gain, f32x4.sqrt(odd));
    const place = to + <usize>b * 4;
    v128.store_lane<f32>(place, even, 0);
    v128.store_lane<f32>(place + row, odd, 0);
    v128.store_lane<f32>(place + 2 * row, even, 1);
    v128.store_lane<f32>(place + 3 * row, odd, 1);
    v128.store_lane<f32>(place + 4 * row, even, 2);
    v128.store_lane<f32>(place + 5 * row, odd, 2);
    v128.store_lane<f32>(place + 6 * row, even, 3);
    v128.store_lane<f32>(place + 7 * row, odd, 3);
  }
}

/**
 * Sums of the powers between neighbouring edges, in double precision: eight rows of `bands`.
 *
 * @param powers as `powersOfEight` leaves them
 * @param edges `bands` + 1 bin numbers
 */
export function sumsOfEight(powers: usize, edges: usize, bands: i32, out: usize): void {
  const row = <usize>bands * 8;
  for (let b = 0; b < bands; b++) {
    const at = edges + <usize>b * 4;
    const first = powers + <usize>load<i32>(at) * CELL;
    const end = powers + <usize>load<i32>(at + 4) * CELL;
    // Two even frames, then two odd ones: frames 0 and 2, 1 and 3, and so on.
    for (let half: usize = 0; half < 2; half++) {
      let even = f64x2.splat(0);
      let odd = even;
      for (let k = first + half * 8; k < end; k += CELL) {
        even = f64x2.add(even, f64x2.promote_low_f32x4(v128.load64_zero(k)));
        odd = f64x2.add(odd, f64x2.promote_low_f32x4(v128.load64_zero(k + IM)));
      }
      const to = out + half * 4 * row + <usize>b * 8;
      store<f64>(to, f64x2.extract_lane(even, 0));
      store<f64>(to + row, f64x2.extract_lane(odd, 0));
      store<f64>(to + 2 * row, f64x2.extract_lane(even, 1));
      store<f64>(to + 3 * row, f64x2.extract_lane(odd, 1));
    }
  }
}

/**
 * Magnitudes added up by classes, in double precision: eight rows of `classes`.
 *
 * @param classOf each bin's class, a byte; negative for none
 */
export function classesOfEight(powers: usize, classOf: usize, until: i32, classes: i32, out: usize): void {
  for (let frame: usize = 0; frame < 8; frame++) {
    let from = powers + (frame & 1) * IM + (frame >> 1) * 4;
    for (let c = 0; c < classes; c++) store<f64>(out + <usize>c * 8, 0);
    for (let k = 0; k < until; k++, from += CELL) {
      const c = <i32>load<i8>(classOf + <usize>k);
      if (c < 0) continue;
      const to = out + <usize>c * 8;
      store<f64>(to, load<f64>(to) + sqrt(<f64>load<f32>(from)));
    }
    out += <usize>classes * 8;
  }
}
